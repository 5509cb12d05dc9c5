import { mkdir, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import type { Command } from 'commander'
import { openLineWriter } from '../../adapters/lineWriter.js'
import { explainAnalyzer, plantStatus } from '../../core/explain.js'
import type { PlantState } from '../../core/plantState.js'
import { renderEvidencePage } from '../../report/evidencePage.js'
import { renderStatusTable } from '../../report/terminal/statusTable.js'
import { PLANT_CORE } from '../../service/plantCore.js'
import { eventLine, REPLAY_CORE } from '../engine.js'
import { addInputOptions, type InputOptions, type PreparedInputs, prepareInputs } from '../inputOptions.js'
import { sayCounts } from '../replayCounts.js'
import { type ReplayedFiles, replayFiles, type ReplayFilesOptions } from '../replayFiles.js'
import { openStoreReplay } from '../storeReplay.js'
import { EXIT, EXIT_HELP, type Terminal } from '../terminal.js'

export interface ReplayCommandOptions extends InputOptions {
  readonly out?: string
  readonly rejects?: string
  readonly into?: string
  readonly html?: string
}

export function addReplay(program: Command, run: (options: ReplayCommandOptions) => Promise<void>): void {
  addInputOptions(
    program
      .command('replay')
      .description(
        'Walk a record through the service and write the events it gives; the same record gives the same bytes',
      )
      .argument(
        '[input...]',
        'NDJSON (plain or gzip), a journal, or CSV; several are read in order; - for standard input',
      ),
  )
    .option('--out <file>', 'events as NDJSON, packed where the name ends in .gz; default: standard output')
    .option('--rejects <file>', 'refused inputs as NDJSON: position, faults, excerpt')
    .option('--into <file>', 'write a new store as the service would have, to serve or explain from')
    .option('--html <folder>', 'write a page of evidence for each analyzer')
    .addHelpText(
      'after',
      `
With --out, or where the register was drafted from CSV, the verdict is shown as a table instead of events.
A CSV row, an NDJSON line or a message that is refused never changes what the others give; refused inputs, repeats
and readings left out are counted on standard error.

Examples:
  turbidrift replay --register register.yaml stream.ndjson.gz --out events.ndjson --rejects rejects.ndjson
  turbidrift replay --csv historian.csv --grabs grabs.csv --html pages
  gzip -dc journal.ndjson.gz | turbidrift replay - > events.ndjson
${EXIT_HELP}`,
    )
    .action((inputs: string[], options: Omit<ReplayCommandOptions, 'inputs'>) => run({ ...options, inputs }))
}

export async function runReplay(options: ReplayCommandOptions, terminal: Terminal): Promise<number> {
  const inputs = await prepareInputs(options, terminal)
  if (typeof inputs === 'number') return inputs
  if (inputs.drafted) tellDraft(inputs, terminal)
  const toStdout = options.out === '-' || (options.out === undefined && !inputs.drafted)
  const events = options.out !== undefined || toStdout ? openLineWriter(options.out ?? '-') : undefined
  const shared = {
    inputs,
    ticks: options.ticks ?? 'auto',
    events,
    rejects: options.rejects === undefined ? undefined : openLineWriter(options.rejects),
  } as const
  const replayed = await (options.into === undefined
    ? replayFiles({ ...shared, core: REPLAY_CORE, line: eventLine }, terminal)
    : replayIntoStore(options.into, shared, terminal))
  if (typeof replayed === 'number') return replayed
  const { state } = replayed
  if (state === undefined) {
    terminal.tell('there is no register: name --register FILE, or begin the input with one')
    return EXIT.usage
  }
  const status = plantStatus(state)
  for (const line of sayCounts(replayed, status.counts)) terminal.tell(line)
  if (options.html !== undefined) await writePages(state, options.html, terminal)
  if (!toStdout) terminal.out(renderStatusTable(status))
  return EXIT.ok
}

type SharedOptions = Omit<ReplayFilesOptions<never, never>, 'core' | 'line'>

async function replayIntoStore(
  path: string,
  shared: SharedOptions,
  terminal: Terminal,
): Promise<ReplayedFiles<PlantState> | number> {
  const { register } = shared.inputs
  if (register === undefined) {
    terminal.tell('--into needs --register FILE: a store belongs to a plant')
    return EXIT.usage
  }
  const store = openStoreReplay(path, register.plant)
  if (typeof store === 'string') {
    terminal.tell(store)
    return EXIT.refused
  }
  const replayed = await replayFiles({ ...shared, core: store.core, line: event => event.body }, terminal)
  const runner = typeof replayed === 'number' ? undefined : replayed.state
  store.close(runner, register)
  if (typeof replayed === 'number') return replayed
  return { ...replayed, state: runner === undefined ? undefined : PLANT_CORE.restore(runner.serialise()) }
}

function tellDraft({ register }: PreparedInputs, terminal: Terminal): void {
  if (register === undefined) return
  const points = Object.entries(register.points).map(
    ([id, point]) => `${id} (${Object.keys(point.analyzers).join(', ')})`,
  )
  terminal.tell(`no register: one was drafted with the default tolerance (0.05 NTU or 10 %): ${points.join('; ')}`)
  terminal.tell(
    `times without offset are taken as ${register.timeZone ?? 'UTC'}; "register from-csv" writes the draft out`,
  )
}

async function writePages(state: PlantState, folder: string, terminal: Terminal): Promise<void> {
  await mkdir(folder, { recursive: true })
  let pages = 0
  for (const id of state.register?.plant.analyzers.keys() ?? []) {
    const explanation = explainAnalyzer(state, id)
    if (explanation === undefined) continue
    await writeFile(join(folder, `${id}.html`), renderEvidencePage(explanation))
    pages += 1
  }
  terminal.tell(`${String(pages)} pages written to ${folder}`)
}
