import type { Command } from 'commander'
import { scoreRows } from '../../core/scorecard.js'
import { renderScorecard } from '../../report/terminal/scorecardTable.js'
import { type Format, formatFor, formatOption, outJson } from '../format.js'
import { addStateOptions, loadState, type StateOptions } from '../loadState.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface ScorecardOptions extends StateOptions {
  readonly format?: Format
}

export function addScorecard(program: Command, run: (options: ScorecardOptions) => Promise<void>): void {
  addStateOptions(
    program
      .command('scorecard')
      .description('How requests ended, by class of points, line of evidence and cause; it weighs nothing')
      .argument('[input...]', 'NDJSON or CSV to replay instead of a store; - for standard input'),
  )
    .addOption(formatOption())
    .addHelpText(
      'after',
      `
Examples:
  turbidrift scorecard --store .turbidrift/hollin-weir.db
  turbidrift scorecard --register register.yaml stream.ndjson.gz --format ndjson`,
    )
    .action((inputs: string[], options: Omit<ScorecardOptions, 'inputs'>) => run({ ...options, inputs }))
}

export async function runScorecard(options: ScorecardOptions, terminal: Terminal): Promise<number> {
  const state = await loadState(options, terminal)
  if (typeof state === 'number') return state
  const rows = scoreRows(state)
  if (formatFor(terminal, options.format) === 'table') terminal.out(renderScorecard(rows))
  else for (const row of rows) outJson(terminal, row)
  return EXIT.ok
}
