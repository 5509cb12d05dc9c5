import type { Explanation, LineView } from '../core/explanation.js'
import { entriesOf } from './counts.js'
import { sayLine, saySigned, sayStatistic, sayUse } from './say.js'
import { EXCLUSION_TEXT } from './words.js'

/** One line of evidence in words, for page and terminal alike. */
export interface LineCells {
  readonly line: string
  readonly values: string
  readonly differenceNtu: string
  readonly sum: string
  readonly falseSignal: string
  readonly leftOut: string
}

export const LINE_HEADS: Readonly<Record<keyof LineCells, string>> = {
  line: 'Line',
  values: 'Values',
  differenceNtu: 'Mean of latest, NTU',
  sum: 'Sum and limit',
  falseSignal: 'One false signal in',
  leftOut: 'Left out',
}

/** Undefined where the line has nothing to say; `sayMissing` tells why. */
export function lineCells(view: LineView, grabs: Explanation['grabs']): LineCells | undefined {
  const { evidence } = view
  if (evidence === undefined) return undefined
  const { n, biasNtu, chart, excluded } = evidence
  const leftOut =
    view.line === 'grab' ? unusedGrabs(grabs) : entriesOf(excluded).map(([why, n]) => [EXCLUSION_TEXT[why], n] as const)
  return {
    line: sayLine(view),
    values: String(n),
    differenceNtu: biasNtu === undefined ? 'not told' : saySigned(biasNtu),
    sum: chart === undefined ? (evidence.says ?? 'no chart') : saySum(chart),
    falseSignal:
      chart === undefined
        ? 'it has no chart'
        : chart.alarmFreeYears === undefined
          ? 'not told'
          : `${String(chart.alarmFreeYears)} analyzer-years`,
    leftOut: leftOut.map(([reason, count]) => `${String(count)} × ${reason}`).join('; ') || 'none',
  }
}

export function sayMissing({ missing }: LineView): string {
  return missing ?? 'nothing to compare'
}

/** Samples, not readings: each grab says itself why it did not count. */
function unusedGrabs(grabs: Explanation['grabs']): readonly (readonly [string, number])[] {
  const counts = new Map<string, number>()
  for (const { use } of grabs) {
    if (use !== 'used') counts.set(sayUse(use), (counts.get(sayUse(use)) ?? 0) + 1)
  }
  return [...counts]
}

type Chart = NonNullable<NonNullable<LineView['evidence']>['chart']>

function saySum({ side, statistic, limit }: Chart): string {
  return `${side} side ${sayStatistic(statistic)}, limit ${sayStatistic(limit)}${statistic > limit ? ': signal' : ''}`
}
