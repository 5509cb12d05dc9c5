import type { Command } from 'commander'
import { solveLimit } from '../../detect/limit.js'
import { roundSignificant } from '../../model/rounding.js'
import { textTable } from '../../report/terminal/textTable.js'
import { positiveNumber } from '../arguments.js'
import { type Format, formatFor, formatOption, outJson } from '../format.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface ChartLimitsOptions {
  readonly s: readonly number[]
  readonly pairsADay: readonly number[]
  readonly budget: number
  readonly sides: number
  readonly delta0: number
  readonly delta1: number
  readonly format?: Format
}

const DAYS_PER_YEAR = 365.25

export function addChartLimits(program: Command, run: (options: ChartLimitsOptions) => Promise<void>): void {
  program
    .command('chart-limits')
    .description('Table of chart limits for given uncertainty, pairs a day and false-alarm budget')
    .option('--s <list>', 'tolerance over standard uncertainty of one pair', listOf(positiveNumber), [2, 3, 4, 5])
    .option('--pairs-a-day <list>', 'pairs a day', listOf(positiveNumber), [1, 2, 4, 6])
    .option('--budget <years>', 'analyzer-years per false alarm', positiveNumber, 5)
    .option('--sides <number>', 'one-sided charts that share the budget', positiveNumber, 2)
    .option('--delta0 <tolerances>', 'bias that is normal', positiveNumber, 0.25)
    .option('--delta1 <tolerances>', 'bias the chart is tuned to', positiveNumber, 0.6)
    .addOption(formatOption())
    .addHelpText(
      'after',
      `
Limits are in log-likelihood units, solved by integral equation for increments capped at 0.4 of the limit. As in the
charts, uncertainty and rate are first put on a grid of 6 %, so that a small change of either moves nothing.

Examples:
  turbidrift chart-limits
  turbidrift chart-limits --s 5 --pairs-a-day 4 --budget 10`,
    )
    .action((options: ChartLimitsOptions) => run(options))
}

export async function runChartLimits(options: ChartLimitsOptions, terminal: Terminal): Promise<number> {
  const { s, pairsADay, budget, sides, delta0, delta1 } = options
  if (delta1 <= delta0) {
    terminal.tell(`--delta1 ${String(delta1)} is refused: must be greater than --delta0 (${String(delta0)})`)
    return EXIT.usage
  }
  const rows = s.flatMap(one =>
    pairsADay.map(perDay => {
      const { limit, arl } = solveLimit({
        u: 1 / one,
        delta0,
        delta1,
        valuesPerDay: perDay,
        budgetYears: budget,
        sides,
      })
      return {
        s: one,
        pairsADay: perDay,
        limit: roundSignificant(limit, 4),
        pairsPerFalseSignal: Math.round(arl),
        yearsPerFalseSignal: roundSignificant(arl / perDay / DAYS_PER_YEAR, 4),
      }
    }),
  )
  if (formatFor(terminal, options.format) === 'ndjson') for (const row of rows) outJson(terminal, row)
  else
    terminal.out(
      `${textTable(
        COLUMNS,
        rows.map(row => Object.values(row).map(String)),
      )}\n`,
    )
  return EXIT.ok
}

const COLUMNS = [
  { head: 's', width: 6 },
  { head: 'pairs a day', width: 11 },
  { head: 'limit', width: 9 },
  { head: 'pairs per false signal of one side', width: 20 },
  { head: 'years per false signal of one side', width: 20 },
]

function listOf(read: (text: string) => number): (text: string) => number[] {
  return text => text.split(',').map(part => read(part.trim()))
}
