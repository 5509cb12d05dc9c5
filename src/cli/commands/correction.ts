import { type Command, Option } from 'commander'
import { type CorrectedRecord, correctedRecord } from '../../core/correctedRecord.js'
import { outJson } from '../format.js'
import { addStateOptions, loadState, type StateOptions } from '../loadState.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface CorrectionOptions extends StateOptions {
  readonly analyzer: string
  readonly format: 'csv' | 'ndjson'
}

export function addCorrection(program: Command, run: (options: CorrectionOptions) => Promise<void>): void {
  addStateOptions(
    program
      .command('correction')
      .description('What the record before the visits should have been, beside what it is; advice, nothing is changed')
      .argument('<analyzer>', 'analyzer')
      .argument('[input...]', 'NDJSON or CSV to replay instead of a store; - for standard input'),
  )
    .addOption(new Option('--format <form>', 'form of the proposals').choices(['csv', 'ndjson']).default('csv'))
    .addHelpText(
      'after',
      `
One row for each 15-minute block of the last ten days that a visit says something of; for older time the formula,
told on standard error (with ndjson: first), gives the correction. The recorded values are never touched.

Examples:
  turbidrift correction SW-A --store .turbidrift/hollin-weir.db > SW-A.csv
  turbidrift correction SW-A --register register.yaml stream.ndjson.gz --at 2026-05-22T12:00:00Z --format ndjson`,
    )
    .action((analyzer: string, inputs: string[], options: Omit<CorrectionOptions, 'inputs' | 'analyzer'>) =>
      run({ ...options, analyzer, inputs }),
    )
}

export async function runCorrection(options: CorrectionOptions, terminal: Terminal): Promise<number> {
  const state = await loadState(options, terminal)
  if (typeof state === 'number') return state
  const record = correctedRecord(state, options.analyzer)
  if (record === undefined) {
    const names = [...(state.register?.plant.analyzers.keys() ?? [])].join(', ')
    terminal.tell(`${options.analyzer}: no analyzer of that name. Analyzers: ${names}`)
    return EXIT.notFound
  }
  if (options.format === 'ndjson') showMachines(record, terminal)
  else showCsv(record, terminal)
  return EXIT.ok
}

function showMachines({ rows, ...about }: CorrectedRecord, terminal: Terminal): void {
  outJson(terminal, about)
  for (const row of rows) outJson(terminal, { analyzer: about.analyzer, ...row })
}

function showCsv(record: CorrectedRecord, terminal: Terminal): void {
  tellFormulas(record, terminal)
  terminal.out('time,analyzer,original_ntu,proposed_ntu,low_ntu,high_ntu,reason\n')
  for (const { time, originalNtu, proposedNtu, ci95, reason } of record.rows) {
    const cells = [
      time,
      record.analyzer,
      originalNtu,
      proposedNtu,
      ci95[0],
      ci95[1],
      `"${reason.replaceAll('"', '""')}"`,
    ]
    terminal.out(`${cells.join(',')}\n`)
  }
}

function tellFormulas({ analyzer, corrections, blocksFrom }: CorrectedRecord, terminal: Terminal): void {
  if (corrections.length === 0) {
    terminal.tell(
      `${analyzer}: no visit on record supports a correction; it takes readings before and after, and the time of the last cleaning or calibration.`,
    )
    return
  }
  for (const { formula, from, to, atVisitNtu, ci95, rating } of corrections) {
    terminal.tell(
      `${analyzer}, ${from} to ${to}: ${formula}; at the visit ${String(atVisitNtu)} NTU (95 % ${String(ci95[0])} to ${String(ci95[1])}), record rated ${rating}.`,
    )
  }
  const reach = blocksFrom === null ? 'No block is kept' : `Blocks are kept since ${blocksFrom}`
  terminal.tell(`${reach}: for older time take the formula. Advice only: the recorded values are not touched.`)
}
