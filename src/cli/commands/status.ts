import type { Command } from 'commander'
import { plantStatus } from '../../core/explain.js'
import { renderStatusTable } from '../../report/terminal/statusTable.js'
import { type Format, formatFor, formatOption, outJson } from '../format.js'
import { addStateOptions, loadState, type StateOptions } from '../loadState.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface StatusOptions extends StateOptions {
  readonly format?: Format
}

export function addStatus(program: Command, run: (options: StatusOptions) => Promise<void>): void {
  addStateOptions(
    program
      .command('status')
      .description('Every analyzer of a plant with its assessment, what is asked, and what is missing')
      .argument('[input...]', 'NDJSON or CSV to replay instead of a store; - for standard input'),
  )
    .addOption(formatOption())
    .addHelpText(
      'after',
      `
Examples:
  turbidrift status --store .turbidrift/hollin-weir.db
  turbidrift status --register register.yaml stream.ndjson.gz --at 2026-05-09T10:15:00Z`,
    )
    .action((inputs: string[], options: Omit<StatusOptions, 'inputs'>) => run({ ...options, inputs }))
}

export async function runStatus(options: StatusOptions, terminal: Terminal): Promise<number> {
  const state = await loadState(options, terminal)
  if (typeof state === 'number') return state
  const status = plantStatus(state)
  if (formatFor(terminal, options.format) === 'table') {
    terminal.out(renderStatusTable(status))
    return EXIT.ok
  }
  const { analyzers, open, ...plant } = status
  outJson(terminal, plant)
  for (const analyzer of analyzers) outJson(terminal, analyzer)
  for (const recommendation of open) outJson(terminal, recommendation)
  return EXIT.ok
}
