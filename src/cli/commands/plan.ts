import type { Command } from 'commander'
import { planVisits } from '../../plan/planVisits.js'
import { renderPlanTable } from '../../report/terminal/planTable.js'
import { wholeNumber } from '../arguments.js'
import { type Format, formatFor, formatOption, outJson } from '../format.js'
import { addStateOptions, loadState, type StateOptions } from '../loadState.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface PlanOptions extends StateOptions {
  readonly days: number
  readonly format?: Format
}

export function addPlan(program: Command, run: (options: PlanOptions) => Promise<void>): void {
  addStateOptions(
    program
      .command('plan')
      .description('Which analyzers to visit in the days ahead, which may be left alone and on what proof')
      .argument('[input...]', 'NDJSON or CSV to replay instead of a store; - for standard input')
      .option('--days <number>', 'days ahead, 1 to 365', wholeNumber(1, 365), 30),
  )
    .addOption(formatOption())
    .addHelpText(
      'after',
      `
Examples:
  turbidrift plan --store .turbidrift/hollin-weir.db --days 7
  turbidrift plan --register register.yaml stream.ndjson.gz --days 90 --format ndjson`,
    )
    .action((inputs: string[], options: Omit<PlanOptions, 'inputs'>) => run({ ...options, inputs }))
}

export async function runPlan(options: PlanOptions, terminal: Terminal): Promise<number> {
  const state = await loadState(options, terminal)
  if (typeof state === 'number') return state
  const plan = planVisits(state, options.days)
  if (formatFor(terminal, options.format) === 'table') {
    terminal.out(renderPlanTable(plan))
    return EXIT.ok
  }
  const { visits, leaveAlone, notProven, requests, ...head } = plan
  outJson(terminal, { kind: 'plan', ...head })
  for (const visit of visits) outJson(terminal, { kind: 'visit', ...visit })
  for (const left of leaveAlone) outJson(terminal, { kind: 'left_alone', ...left })
  for (const one of notProven) outJson(terminal, { kind: 'not_proven', ...one })
  for (const request of requests) outJson(terminal, { kind: 'request', ...request })
  return EXIT.ok
}
