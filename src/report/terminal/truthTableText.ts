import type { TruthRow, TruthTable } from '../truthTable.js'
import { type Column, textTable } from './textTable.js'

const COLUMNS: readonly Column[] = [
  { head: 'what was wrong', width: 15 },
  { head: 'where', width: 7 },
  { head: 'expected', width: 24 },
  { head: 'got', width: 26 },
  { head: 'opened', width: 6 },
  { head: 'bias, toler-ances', width: 6 },
  { head: 'days before toler-ance', width: 6 },
  { head: 'verdict', width: 7 },
]

const VERDICTS = { ok: 'ok', missed: 'MISSED', wrong: 'WRONG', not_due: 'not due' } as const

/** What was wrong at the simulated plant, beside what was said about it. */
export function renderTruthTable({ rows, falseOpenings }: TruthTable): string {
  const table = textTable(COLUMNS, rows.map(cells))
  const good = rows.filter(row => row.verdict === 'ok').length
  const others = falseOpenings.map(({ time, data }) => `  ${time.slice(0, 10)} ${data.action}: ${data.summary}`)
  const rest = others.length === 0 ? 'Everything else: nothing opened.' : `Everything else: ${others.length} opened.`
  return [table, `${good} of ${rows.length} as they should be. ${rest}`, ...others].join('\n')
}

function cells(row: TruthRow): string[] {
  return [
    // With spaces it can be broken between words.
    row.fault.replaceAll('-', ' '),
    row.at,
    row.expected,
    row.got,
    row.openedAt?.slice(5, 10) ?? '',
    row.biasAtOpening?.toFixed(2) ?? '',
    row.daysBeforeTolerance?.toFixed(1) ?? '',
    VERDICTS[row.verdict],
  ]
}
