import { existsSync } from 'node:fs'
import { DatabaseSync } from '@photostructure/sqlite'
import { openStore } from '../adapters/sqliteStore.js'
import { sayFault } from '../model/faults.js'
import { PLANT_CORE } from '../service/plantCore.js'
import { createPlantRunner } from '../service/plantRunner.js'
import { recoverState } from '../service/recover.js'
import { EVENT_TYPE_PREFIX, SOFTWARE_VERSION } from '../service/version.js'

export interface StoredRecord {
  readonly ok: boolean
  readonly sentence: string
}

/** Name under which records handed in by hand stand in the journal. */
const RECORD_FEED = 'record'

/** Takes one message into the store of a service that is not running, as the service would have taken it. */
export function recordIntoStore(path: string, plant: string, message: object, receivedAt: string): StoredRecord {
  if (!existsSync(path)) return { ok: false, sentence: `${path}: there is no such file` }
  if (!isFree(path)) return { ok: false, sentence: `${path} is in use: hand in with --drop` }
  const opened = openStore(path, plant)
  if (!opened.ok) return { ok: false, sentence: opened.problem }
  const { store } = opened
  try {
    const runner = createPlantRunner(recoverState(PLANT_CORE, store, plant), {
      core: PLANT_CORE,
      ticks: 'recorded',
      lastSeq: store.lastSeq(),
      prefix: EVENT_TYPE_PREFIX,
      softwareVersion: SOFTWARE_VERSION,
    })
    const batch = runner.advance([{ feed: RECORD_FEED, receivedAt, message }])
    store.commit({ ...batch, state: runner.serialise() })
    store.checkpoint()
    const [refused] = batch.rejects
    return refused === undefined
      ? { ok: true, sentence: `taken into ${path}; it counts with the next tick` }
      : { ok: false, sentence: refused.faults.map(sayFault).join('; ') }
  } finally {
    store.close()
  }
}

/**
 * Whether no other process has the store open: a service that found a strange row in its journal would have to end.
 * With exclusive locking a connection gets its first lock only where there is no other (SQLite, WAL mode §8).
 */
function isFree(path: string): boolean {
  const db = new DatabaseSync(path, { timeout: 0 })
  try {
    db.exec('PRAGMA locking_mode = EXCLUSIVE; BEGIN IMMEDIATE; ROLLBACK')
    return true
  } catch {
    return false
  } finally {
    db.close()
  }
}
