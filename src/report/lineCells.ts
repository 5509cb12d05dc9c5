import type { LineView } from '../core/explanation.js'
import { entriesOf } from './counts.js'
import { saySigned, sayStatistic } from './say.js'
import { EXCLUSION_TEXT, LINE_TEXT } from './words.js'

/** One line of evidence in words, for page and terminal alike. */
export interface LineCells {
  readonly line: string
  readonly against: string
  readonly values: string
  readonly differenceNtu: string
  readonly sum: string
  readonly falseSignal: string
  readonly leftOut: string
}

export const LINE_HEADS: Readonly<Record<keyof LineCells, string>> = {
  line: 'Line',
  against: 'Compared with',
  values: 'Values',
  differenceNtu: 'Difference, NTU',
  sum: 'Sum and limit',
  falseSignal: 'One false signal in',
  leftOut: 'Left out',
}

/** Undefined where the line has nothing to say; `sayMissing` tells why. */
export function lineCells({ line, against, evidence }: LineView): LineCells | undefined {
  if (evidence === undefined) return undefined
  const { n, biasNtu, chart, excluded } = evidence
  return {
    line: LINE_TEXT[line],
    against,
    values: String(n),
    differenceNtu: biasNtu === undefined ? 'not told' : saySigned(biasNtu),
    sum: chart === undefined ? 'no chart' : saySum(chart),
    falseSignal: chart?.alarmFreeYears === undefined ? 'not told' : `${String(chart.alarmFreeYears)} analyzer-years`,
    leftOut:
      entriesOf(excluded)
        .map(([reason, count]) => `${String(count)} × ${EXCLUSION_TEXT[reason]}`)
        .join('; ') || 'none',
  }
}

export function sayMissing({ missing }: LineView): string {
  return missing ?? 'nothing to compare'
}

type Chart = NonNullable<NonNullable<LineView['evidence']>['chart']>

function saySum({ side, statistic, limit }: Chart): string {
  return `${side} side ${sayStatistic(statistic)}, limit ${sayStatistic(limit)}${statistic > limit ? ': signal' : ''}`
}
