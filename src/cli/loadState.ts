import { readdirSync } from 'node:fs'
import { join } from 'node:path'
import type { Command } from 'commander'
import type { PlantState } from '../core/plantState.js'
import type { RecordedInput } from '../model/recordedInput.js'
import { PLANT_CORE } from '../service/plantCore.js'
import { recoverState } from '../service/recover.js'
import { createReplay } from '../service/replay.js'
import { instantArgument } from './arguments.js'
import { eventLine, REPLAY_CORE } from './engine.js'
import { addInputOptions, type InputOptions, prepareInputs } from './inputOptions.js'
import { openStoreToRead } from './openStore.js'
import { replayFiles } from './replayFiles.js'
import { EXIT, type Terminal } from './terminal.js'

/** Where the state of a plant comes from: a store, or a record replayed. */
export interface StateOptions extends InputOptions {
  readonly store?: string
  readonly at?: number
}

export function addStateOptions(command: Command): Command {
  return addInputOptions(
    command
      .option('--store <file>', 'store of a service, running or not; default: the only one in .turbidrift/')
      .option('--at <time>', 'as things stood at this plant time; default: at the end', instantArgument),
  )
}

/** @returns the state, or an exit code after the reason was told */
export async function loadState(options: StateOptions, terminal: Terminal): Promise<PlantState | number> {
  const fromFiles = options.inputs.length > 0 || options.csv !== undefined
  if (!fromFiles) return fromStore(options, terminal)
  if (options.store !== undefined) {
    terminal.tell('--store and inputs exclude each other')
    return EXIT.usage
  }
  const inputs = await prepareInputs(options, terminal)
  if (typeof inputs === 'number') return inputs
  const replayed = await replayFiles(
    {
      core: REPLAY_CORE,
      inputs,
      ticks: options.ticks ?? 'auto',
      ...(options.at === undefined ? {} : { untilMs: options.at }),
      line: eventLine,
      events: undefined,
      rejects: undefined,
    },
    terminal,
  )
  if (typeof replayed === 'number') return replayed
  return reached(replayed.state, options, terminal)
}

function fromStore(options: StateOptions, terminal: Terminal): PlantState | number {
  const path = options.store ?? onlyStore()
  if (path === undefined) {
    terminal.tell('nothing to look at: name --store FILE, or --register FILE and an input')
    return EXIT.usage
  }
  const store = openStoreToRead(path, terminal)
  if (store === undefined) return EXIT.notFound
  try {
    const plant = store.meta('plant') ?? ''
    if (options.at === undefined) return reached(recoverState(PLANT_CORE, store, plant), options, terminal)
    const replay = createReplay({
      core: REPLAY_CORE,
      register: undefined,
      ticks: 'recorded',
      untilMs: options.at,
      event: () => {},
      rejected: () => {},
    })
    for (const row of store.journalAfter(0)) {
      if (replay.ended()) break
      replay.take(JSON.parse(row.input) as RecordedInput, path, row.seq)
    }
    return reached(replay.finish(), options, terminal)
  } finally {
    store.close()
  }
}

function reached(state: PlantState | undefined, { at }: StateOptions, terminal: Terminal): PlantState | number {
  if (state === undefined || state.register === null) {
    terminal.tell('there is no register: name --register FILE')
    return EXIT.usage
  }
  if (state.plantMs > 0 || at === undefined) return state
  terminal.tell('the record holds nothing up to that time')
  return EXIT.notFound
}

function onlyStore(): string | undefined {
  try {
    const stores = readdirSync('.turbidrift').filter(name => name.endsWith('.db'))
    return stores.length === 1 ? join('.turbidrift', stores[0]!) : undefined
  } catch {
    return undefined
  }
}
