import { textTable } from '../../../src/report/terminal/textTable.js'
import { type CoverScores, QUANTITIES } from './covering.js'
import type { CauseScores, Score } from './scoring.js'
import type { Share } from './share.js'

/** How well causes were told, at one time of looking. @param when as the tables are to name it */
export function causeTables(scores: CauseScores, when: string): string {
  return [scoreTable(scores, when), confusionTable(scores, when), reliabilityTable(scores, when)].join('\n')
}

function scoreTable({ n, ours, beside, ...shares }: CauseScores, when: string): string {
  const columns = [
    { head: `causes ${when}`, width: 44 },
    { head: 'n', width: 5 },
    { head: 'log loss', width: 8 },
    { head: 'Brier', width: 6 },
    { head: 'share, 95 % interval', width: 24 },
  ]
  const scoreRow = (name: string, count: number, score: Score): string[][] => [
    [name, String(count), score.logLoss.toFixed(3), score.brier.toFixed(3), ''],
  ]
  const shareRow = (name: string, share: Share): string[] => [name, String(share.n), '', '', sayShare(share)]
  return textTable(
    columns,
    [
      ...(ours === null ? [] : scoreRow('stated', n, ours)),
      ...(beside === null
        ? []
        : [
            ...scoreRow('stated, beside the best possible', beside.n, beside.ours),
            ...scoreRow('best possible', beside.n, beside.oracle),
          ]),
      shareRow('named rightly, best possible ≥ 0.9', shares.rightWhereSure),
      shareRow('right one first, best possible ≥ 0.9', shares.firstWhereSure),
      shareRow('undecided, best possible < 0.9', shares.undecidedWhereUnsure),
    ],
    false,
  )
}

function confusionTable({ confusion }: CauseScores, when: string): string {
  const said = [...new Set(Object.values(confusion).flatMap(row => Object.keys(row)))]
  const columns = [{ head: `truth; named ${when}`, width: 24 }, ...said.map(head => ({ head, width: 12 }))]
  const rows = Object.entries(confusion).map(([truth, row]) => [truth, ...said.map(one => String(row[one] ?? 0))])
  return textTable(columns, rows, false)
}

function reliabilityTable({ reliability }: CauseScores, when: string): string {
  const columns = [
    { head: `stated ${when}`, width: 24 },
    { head: 'n', width: 5 },
    { head: 'mean', width: 6 },
    { head: 'true, 95 % interval', width: 24 },
  ]
  const rows = reliability.map(({ from, to, n, stated, right }) => [
    `${from.toFixed(1)} to ${to.toFixed(1)}`,
    String(n),
    stated.toFixed(3),
    sayShare(right),
  ])
  return textTable(columns, rows, false)
}

/** How often the right unit was named and the printed intervals held, by kind of fault. */
export function coverTable(scores: Readonly<Record<string, CoverScores>>): string {
  const columns = [
    { head: 'at opening', width: 30 },
    ...Object.entries(scores).map(([name, { faults }]) => ({ head: `${name} (${String(faults)})`, width: 30 })),
  ]
  const groups = Object.values(scores)
  const shareRow = (name: string, pick: (one: CoverScores) => Share): string[] => [
    name,
    ...groups.map(one => `${sayShare(pick(one))} of ${String(pick(one).n)}`),
  ]
  return textTable(
    columns,
    [
      shareRow('right unit', one => one.rightUnit),
      shareRow('wrong unit', one => one.wrongUnit),
      ...QUANTITIES.map(quantity => shareRow(`${quantity} within its interval`, one => one.covered[quantity])),
      [
        `bias, ${(groups.find(one => one.bias.length > 0)?.bias ?? []).map(({ p }) => String(100 * p)).join('/')} %`,
        ...groups.map(one => one.bias.map(({ value }) => value.toFixed(2)).join(' / ')),
      ],
    ],
    false,
  )
}

function sayShare({ share, ci95 }: Share): string {
  if (share === null || ci95 === null) return '–'
  return `${percent(share)} % (${ci95.map(percent).join(' to ')})`
}

function percent(share: number): string {
  return (100 * share).toFixed(1)
}
