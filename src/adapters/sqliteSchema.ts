import type { DatabaseSyncInstance } from '@photostructure/sqlite'

/** Raised with each change of the tables; a store of another version is refused, never guessed at. */
export const STORE_VERSION = 1

/**
 * Tables of one plant's store.
 * - `journal`: every recorded input in the order it was taken, ticks and registers included, as canonical JSON.
 * - `state`: rows of the core's state; each with the journal number at which it last changed. `state_seq` in `meta`
 *   says which journal number all rows together belong to.
 * - `outbox`: events in order, each id once. `sink`: how far each sink has come in it. `set_aside`: the events a sink's
 *   receiver refused for good, with what it said.
 * - `feed_position`: the last position taken from each feed, in the same transaction as the input itself.
 * - `series`: points for a dashboard's database that wait to be written there; `series_dropped` and `series_refused` in
 *   `meta` count those that never will be.
 * - `reject`: the newest refused messages; `rejected` in `meta` counts all of them.
 */
const TABLES = `
  CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
  CREATE TABLE journal (seq INTEGER PRIMARY KEY, input TEXT NOT NULL) STRICT;
  CREATE TABLE state (key TEXT PRIMARY KEY, seq INTEGER NOT NULL, text TEXT NOT NULL) STRICT;
  CREATE TABLE outbox (
    seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, type TEXT NOT NULL, subject TEXT NOT NULL, body TEXT NOT NULL
  ) STRICT;
  CREATE TABLE sink (name TEXT PRIMARY KEY, cursor INTEGER NOT NULL) STRICT, WITHOUT ROWID;
  CREATE TABLE feed_position (feed TEXT PRIMARY KEY, position TEXT NOT NULL, seq INTEGER NOT NULL)
    STRICT, WITHOUT ROWID;
  CREATE TABLE reject (
    seq INTEGER PRIMARY KEY, feed TEXT NOT NULL, position TEXT, faults TEXT NOT NULL, excerpt TEXT NOT NULL
  ) STRICT;
`

/** Made where it is missing, in stores of earlier releases too: those pass it by. */
const LATER_TABLES = `
  CREATE TABLE IF NOT EXISTS set_aside (
    sink TEXT NOT NULL, seq INTEGER NOT NULL, reason TEXT NOT NULL, PRIMARY KEY (sink, seq)
  ) STRICT, WITHOUT ROWID;
  CREATE TABLE IF NOT EXISTS series (seq INTEGER PRIMARY KEY AUTOINCREMENT, points INTEGER NOT NULL, body TEXT NOT NULL)
    STRICT;
`

/**
 * Sets the write-ahead log and full synchronisation, and makes the tables in an empty file.
 * @returns what is wrong with the file, where it is not a store of this version and plant
 */
export function prepareSchema(db: DatabaseSyncInstance, plant: string): string | undefined {
  // FULL is set after WAL: WAL alone would let a power cut undo commits a sender saw acknowledged.
  db.exec('PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA busy_timeout = 5000')
  if (tableNames(db).length === 0) {
    db.exec(`BEGIN IMMEDIATE; ${TABLES}`)
    const put = db.prepare('INSERT INTO meta (key, value) VALUES (?, ?)')
    put.run('store_version', String(STORE_VERSION))
    put.run('plant', plant)
    db.exec('COMMIT')
  }
  const problem = schemaProblem(db, plant)
  if (problem === undefined) db.exec(LATER_TABLES)
  return problem
}

/** What keeps a file from being the store of a plant; undefined where it is one. */
export function schemaProblem(db: DatabaseSyncInstance, plant: string | undefined): string | undefined {
  if (!tableNames(db).includes('meta')) return 'is no store of this service'
  const get = db.prepare('SELECT value FROM meta WHERE key = ?')
  const version = valueOf(get.get('store_version'))
  if (version !== String(STORE_VERSION))
    return `has tables of version ${version ?? 'unknown'}, this release reads ${STORE_VERSION}`
  const owner = valueOf(get.get('plant'))
  return plant === undefined || owner === plant ? undefined : `belongs to plant ${owner ?? 'unknown'}, not to ${plant}`
}

function tableNames(db: DatabaseSyncInstance): string[] {
  const rows = db.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").all() as { name: string }[]
  return rows.map(row => row.name)
}

function valueOf(row: unknown): string | undefined {
  return (row as { value: string } | undefined)?.value
}
