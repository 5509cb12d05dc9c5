import { openStore, type Store, type StoreBatch } from '../adapters/sqliteStore.js'
import { canonicalJson } from '../model/canonicalJson.js'
import type { RegisterFile } from '../model/register.js'
import { PLANT_CORE } from '../service/plantCore.js'
import { createPlantRunner, type PlantRunner } from '../service/plantRunner.js'
import type { ReplayCore } from '../service/replay.js'
import { EVENT_TYPE_PREFIX, SOFTWARE_VERSION } from '../service/version.js'

type StoredEvent = StoreBatch['events'][number]

/** A replay that writes a store as the service would have written it. */
export interface StoreReplay {
  readonly core: ReplayCore<PlantRunner, StoredEvent>
  /** Writes what has gathered. */
  readonly commit: () => void
  /** Writes the rest with the state, so that a service can go on from here, and closes the store. */
  readonly close: (runner: PlantRunner | undefined, register: RegisterFile | undefined) => void
}

const COMMIT_AT = 2_000

/** Opens a new store for a replay. @returns or what is wrong with the file */
export function openStoreReplay(path: string, plant: string): StoreReplay | string {
  const opened = openStore(path, plant)
  if (!opened.ok) return opened.problem
  const { store } = opened
  if (store.lastSeq() > 0) {
    store.close()
    return `${path} holds a journal already: replay into a new file`
  }
  return replayInto(store)
}

function replayInto(store: Store): StoreReplay {
  let gathered = emptyBatch()
  const commit = (): void => {
    if (gathered.journal.length === 0) return
    store.commit(gathered)
    gathered = emptyBatch()
  }
  return {
    commit,
    core: {
      create: (plant, byEvents) =>
        createPlantRunner(PLANT_CORE.create(plant), {
          core: PLANT_CORE,
          ticks: byEvents ? 'event' : 'recorded',
          lastSeq: 0,
          prefix: EVENT_TYPE_PREFIX,
          softwareVersion: SOFTWARE_VERSION,
        }),
      // The runner steps the ticks that are due itself, for they belong in the journal.
      dueTick: () => undefined,
      step: (runner, input) => {
        const { journal, positions, events, rejects } = runner.advance([input])
        gathered.journal.push(...journal)
        gathered.events.push(...events)
        gathered.rejects.push(...rejects)
        for (const [feed, position] of positions) gathered.positions.set(feed, position)
        if (gathered.journal.length >= COMMIT_AT) commit()
        const [refused] = rejects
        const outcome = refused === undefined ? { kind: 'accepted' } : { kind: 'rejected', faults: refused.faults }
        return { state: runner, events, outcome }
      },
    },
    close: (runner, register) => {
      commit()
      if (runner !== undefined) {
        const meta =
          register === undefined ? new Map<string, string>() : new Map([['register', canonicalJson(register)]])
        store.commit({ ...emptyBatch(), meta, state: runner.serialise() })
      }
      store.checkpoint()
      store.close()
    },
  }
}

function emptyBatch(): {
  journal: StoreBatch['journal'][number][]
  positions: Map<string, string>
  events: StoredEvent[]
  rejects: StoreBatch['rejects'][number][]
} {
  return { journal: [], positions: new Map(), events: [], rejects: [] }
}
