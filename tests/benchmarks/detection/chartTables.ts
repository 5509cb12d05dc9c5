import { textTable } from '../../../src/report/terminal/textTable.js'
import type { ChartBudgetRow } from './chartBudget.js'
import { type ChartDelayRow, DELAY_BARS } from './chartDelay.js'
import type { ChartCell, Knowledge } from './chartScenario.js'
import type { RivalRow } from './rivalRows.js'

const NOISE: Readonly<Record<Knowledge, string>> = { known: 'noise known', learnt: 'noise learnt' }

/** Delays of the product's charts beside the bound's: what grows, then steps; a star marks what is beyond its bar. */
export function chartDelayTable(rows: readonly ChartDelayRow[]): string {
  const isStep = ({ shape }: ChartDelayRow): boolean => shape.startsWith('step')
  return [
    'Mean days from ¼ tolerance to the signal, and how many times the best CUSUM of known noise takes:',
    delayMatrix(
      rows.filter(row => !isStep(row)),
      daysAndRatio,
    ),
    'The same for steps, and in brackets beside the best CUSUM that takes three values as the product does:',
    delayMatrix(rows.filter(isStep), row => `${daysAndRatio(row)} (${row.cappedBound.ratio.toFixed(2)})`),
    ...(['known', 'learnt'] as const).map(knowledge =>
      withinBars(
        rows.filter(row => row.knowledge === knowledge),
        knowledge,
      ),
    ),
  ].join('\n')
}

function delayMatrix(rows: readonly ChartDelayRow[], say: (row: ChartDelayRow) => string): string {
  const shapes = [...new Set(rows.map(({ shape }) => shape))]
  const lines = [...new Set(rows.map(lineName))]
  return textTable(
    [{ head: 'line', width: 33 }, ...shapes.map(head => ({ head, width: 18 }))],
    lines.map(line => [
      line,
      ...shapes.map(shape => {
        const row = rows.find(one => lineName(one) === line && one.shape === shape)
        return row === undefined ? '' : say(row)
      }),
    ]),
    false,
  )
}

function daysAndRatio({ delayDays, bound, bar }: ChartDelayRow): string {
  return `${delayDays.toFixed(1)} d ${bound.ratio.toFixed(2)}${bound.ratio > bar ? '*' : ''}`
}

function withinBars(rows: readonly ChartDelayRow[], knowledge: Knowledge): string {
  const within = (ratioOf: (row: ChartDelayRow) => number): string =>
    String(rows.filter(row => ratioOf(row) <= row.bar).length)
  return (
    `${NOISE[knowledge]}: ${within(row => row.bound.ratio)} of ${String(rows.length)} within ` +
    `${DELAY_BARS[knowledge].toFixed(2)} of the bound, ${within(row => row.cappedBound.ratio)} of the capped bound.`
  )
}

function lineName({ cell, knowledge }: { readonly cell: ChartCell; readonly knowledge: Knowledge }): string {
  return `${cellName(cell)}, ${NOISE[knowledge]}`
}

function cellName(cell: ChartCell): string {
  return cell.line === 'grab' ? `s ${cell.s}, ${cell.perDay} a day` : `${cell.units} units`
}

/** Run lengths with the bias standing at delta0. */
export function chartBudgetTable(rows: readonly ChartBudgetRow[]): string {
  return textTable(
    [
      { head: 'bias standing at ¼ tolerance', width: 33 },
      { head: 'values', width: 8 },
      { head: 'signals', width: 7 },
      { head: 'values per signal', width: 10 },
      { head: '95 %', width: 12 },
      { head: 'asked', width: 6 },
      { head: 'solved for', width: 6 },
    ],
    rows.map(row => [
      lineName(row),
      String(row.values),
      String(row.signals),
      row.arl.toFixed(0),
      row.arlInterval.map(end => end.toFixed(0)).join(' to '),
      `${row.askedArl.toFixed(0)}${row.keepsBudget ? '' : '*'}`,
      row.solvedArl.toFixed(0),
    ]),
    false,
  )
}

/** Other ways of looking at the same pairs. */
export function rivalTable(rows: readonly RivalRow[]): string {
  const [first] = rows
  if (first === undefined) return ''
  return textTable(
    [
      { head: cellName(first.cell), width: 26 },
      { head: 'set', width: 34 },
      ...first.falsePerYear.map(({ bias }) => ({ head: `false a year, bias ${bias}`, width: 10 })),
      ...first.faults.map(({ shape }) => ({ head: `${shape}: median, 90 %, before tolerance`, width: 20 })),
    ],
    rows.map(({ name, setting, falsePerYear, faults }) => [
      name,
      setting,
      ...falsePerYear.map(({ rate }) => rate.toFixed(2)),
      ...faults.map(
        ({ medianDays, p90Days, beforeTolerance }) =>
          `${days(medianDays)}, ${days(p90Days)} d, ${(100 * beforeTolerance).toFixed(0)} %`,
      ),
    ]),
    false,
  )
}

function days(value: number | null): string {
  return value === null ? 'never' : value.toFixed(1)
}
