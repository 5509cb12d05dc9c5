import { mkdirSync } from 'node:fs'
import { dirname } from 'node:path'
import { DatabaseSync, type DatabaseSyncInstance } from '@photostructure/sqlite'
import type { Fault } from '../model/faults.js'
import type { SeriesPoint } from '../core/series.js'
import { prepareSchema, schemaProblem } from './sqliteSchema.js'
import { type SeriesQueue, seriesTable } from './sqliteSeries.js'
import { writeBatch } from './sqliteWrite.js'
import { type WalSync, walSync } from './walSync.js'

/** One recorded input as it stands in the journal: `input` is the canonical JSON of a `RecordedInput`. */
export interface JournalRow {
  readonly seq: number
  readonly input: string
}

/** One event on its way out: `body` is the canonical JSON of a CloudEvent. */
export interface OutboxRow {
  readonly seq: number
  readonly id: string
  readonly type: string
  readonly subject: string
  readonly body: string
}

/** A refused message; `seq` is its number in the journal. */
export interface RejectRow {
  readonly seq: number
  readonly feed: string
  readonly position?: string
  readonly faults: readonly Fault[]
  readonly excerpt: string
}

/** What one transaction holds. Journal numbers follow on from `lastSeq` without a gap. */
export interface StoreBatch {
  readonly journal: readonly JournalRow[]
  readonly positions: ReadonlyMap<string, string>
  readonly events: readonly Omit<OutboxRow, 'seq'>[]
  readonly rejects: readonly RejectRow[]
  /** All rows of the state after the last input of the batch; absent when it is not time to save it. */
  readonly state?: ReadonlyMap<string, string>
  readonly meta?: ReadonlyMap<string, string>
  /** Points for a dashboard's database. */
  readonly series?: readonly SeriesPoint[]
}

export interface Committed {
  /** Ids of events that were in the outbox already with other content: the same input gave another answer. */
  readonly differing: readonly string[]
}

/** The store of one plant on one machine. Calls are synchronous; a thrown error means the file was lost or is full. */
export interface Store {
  readonly lastSeq: () => number
  /** Journal number the saved state includes; 0 without one. */
  readonly stateSeq: () => number
  /** Writes the batch as a whole or not at all. A batch that is in the journal already counts as written. */
  readonly commit: (batch: StoreBatch) => Committed
  /**
   * As `commit`, but safe from a killed process only: a power cut may undo it until `synced`, called after it, has
   * called back without an error. Its events are not in `outboxAfter` before.
   */
  readonly write: (batch: StoreBatch) => Committed
  readonly synced: (done: (error?: Error) => void) => void
  readonly meta: (key: string) => string | undefined
  readonly stateRows: () => Map<string, string>
  /** The journal after a number, read in pages so that no reader stays open between them. */
  readonly journalAfter: (seq: number) => Generator<JournalRow>
  readonly position: (feed: string) => string | undefined
  readonly outboxAfter: (seq: number, limit: number) => readonly OutboxRow[]
  /** The newest event of a type for each subject. */
  readonly newestPerSubject: (type: string) => readonly OutboxRow[]
  readonly cursor: (sink: string) => number
  readonly moveCursor: (sink: string, seq: number) => void
  /** Number of the newest event in the outbox, 0 without one. Numbers have no gaps. */
  readonly newestEvent: () => number
  /** Keeps that a sink's receiver refused an event for good; said twice it counts once. */
  readonly setAside: (sink: string, seq: number, reason: string) => void
  readonly setAsideTotal: (sink: string) => number
  /** Newest first. */
  readonly rejects: (limit: number) => readonly RejectRow[]
  readonly rejectedTotal: () => number
  readonly series: SeriesQueue
  /** Moves the write-ahead log into the file; for quiet moments. */
  readonly checkpoint: () => void
  readonly close: () => void
}

export type OpenedStore =
  { readonly ok: true; readonly store: Store } | { readonly ok: false; readonly problem: string }

const PAGE = 1_000

/**
 * Opens the store of a plant, or makes it.
 *
 * Every batch is one transaction: what `commit` has returned for outlives a power cut, and so does what `write` has
 * taken once `synced` says so. Cursors of sinks may be undone by a power cut: events then go out again.
 * The journal and the outbox grow without end (about 250 bytes a reading); shortening them is left to whoever
 * archives the exported journal, because a shortened one no longer replays from its beginning.
 * @param plant undefined only with `readOnly`: whatever plant the file belongs to
 */
export function openStore(path: string, plant: string | undefined, options: { readOnly?: boolean } = {}): OpenedStore {
  const readOnly = options.readOnly ?? false
  let db: DatabaseSyncInstance | undefined
  try {
    if (!readOnly && path !== ':memory:') mkdirSync(dirname(path), { recursive: true })
    db = new DatabaseSync(path, { readOnly, timeout: 5_000 })
    const problem = readOnly || plant === undefined ? schemaProblem(db, plant) : prepareSchema(db, plant)
    if (problem === undefined) {
      const sync = walSync(path)
      // A process killed between `write` and `synced` left what only the memory of the machine may hold.
      if (!readOnly) sync.now()
      return { ok: true, store: storeOn(db, sync, readOnly) }
    }
    db.close()
    return { ok: false, problem: `${path} ${problem}` }
  } catch (error) {
    if (db?.isOpen === true) db.close()
    return { ok: false, problem: `${path} cannot be opened: ${error instanceof Error ? error.message : String(error)}` }
  }
}

function storeOn(db: DatabaseSyncInstance, sync: WalSync, readOnly: boolean): Store {
  const select = {
    lastSeq: db.prepare('SELECT coalesce(max(seq), 0) AS n FROM journal'),
    meta: db.prepare('SELECT value FROM meta WHERE key = ?'),
    state: db.prepare('SELECT key, text FROM state ORDER BY key'),
    journal: db.prepare(`SELECT seq, input FROM journal WHERE seq > ? ORDER BY seq LIMIT ${PAGE}`),
    position: db.prepare('SELECT position FROM feed_position WHERE feed = ?'),
    outbox: db.prepare(
      'SELECT seq, id, type, subject, body FROM outbox WHERE seq > ? AND seq <= ? ORDER BY seq LIMIT ?',
    ),
    newest: db.prepare(
      `SELECT seq, id, type, subject, body FROM outbox
       WHERE seq IN (SELECT max(seq) FROM outbox WHERE type = ? GROUP BY subject) ORDER BY seq`,
    ),
    newestEvent: db.prepare('SELECT coalesce(max(seq), 0) AS n FROM outbox'),
    cursor: db.prepare('SELECT cursor FROM sink WHERE name = ?'),
    moveCursor: db.prepare(
      'INSERT INTO sink (name, cursor) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET cursor = excluded.cursor',
    ),
    rejects: db.prepare('SELECT seq, feed, position, faults, excerpt FROM reject ORDER BY seq DESC LIMIT ?'),
  }
  const meta = (key: string) => (select.meta.get(key) as { value: string } | undefined)?.value
  const number = (key: string) => Number(meta(key) ?? 0)
  const lastSeq = () => (select.lastSeq.get() as { n: number }).n
  const series = seriesTable(db)
  const newestEvent = () => (select.newestEvent.get() as { n: number }).n
  let writer: ((batch: StoreBatch) => Committed) | undefined
  const commit = (batch: StoreBatch): Committed => (writer ??= writeBatch(db, series))(batch)
  /** The newest event that a power cut cannot undo. Who only reads is not asked to judge that. */
  let safeEvent = readOnly ? Number.MAX_SAFE_INTEGER : newestEvent()
  return {
    lastSeq,
    stateSeq: () => number('state_seq'),
    commit: batch => {
      const committed = commit(batch)
      safeEvent = newestEvent()
      return committed
    },
    write: batch => unsynchronised(db, () => commit(batch)),
    synced: done => {
      const upTo = newestEvent()
      sync.later(error => {
        if (error === undefined) safeEvent = Math.max(safeEvent, upTo)
        done(error)
      })
    },
    meta,
    stateRows: () => new Map((select.state.all() as { key: string; text: string }[]).map(row => [row.key, row.text])),
    *journalAfter(seq) {
      let after = seq
      for (;;) {
        const page = select.journal.all(after) as JournalRow[]
        yield* page
        const last = page.at(-1)
        if (last === undefined) return
        after = last.seq
      }
    },
    position: feed => (select.position.get(feed) as { position: string } | undefined)?.position,
    outboxAfter: (seq, limit) => select.outbox.all(seq, safeEvent, limit) as OutboxRow[],
    newestPerSubject: type => select.newest.all(type) as OutboxRow[],
    cursor: sink => (select.cursor.get(sink) as { cursor: number } | undefined)?.cursor ?? 0,
    moveCursor: (sink, seq) => unsynchronised(db, () => void select.moveCursor.run(sink, seq)),
    newestEvent,
    setAside: (sink, seq, reason) => {
      db.prepare('INSERT OR REPLACE INTO set_aside (sink, seq, reason) VALUES (?, ?, ?)').run(sink, seq, reason)
    },
    setAsideTotal: sink =>
      (db.prepare('SELECT count(*) AS n FROM set_aside WHERE sink = ?').get(sink) as { n: number }).n,
    rejects: limit => (select.rejects.all(limit) as StoredReject[]).map(toReject),
    rejectedTotal: () => number('rejected'),
    series,
    checkpoint: () => db.exec('PRAGMA wal_checkpoint(TRUNCATE)'),
    close: () => {
      sync.close()
      if (db.isOpen) db.close()
    },
  }
}

/** A transaction that does not wait for the disk. */
function unsynchronised<T>(db: DatabaseSyncInstance, run: () => T): T {
  db.exec('PRAGMA synchronous = NORMAL')
  try {
    return run()
  } finally {
    db.exec('PRAGMA synchronous = FULL')
  }
}

interface StoredReject {
  readonly seq: number
  readonly feed: string
  readonly position: string | null
  readonly faults: string
  readonly excerpt: string
}

function toReject(row: StoredReject): RejectRow {
  const { position, faults, ...rest } = row
  return { ...rest, ...(position === null ? {} : { position }), faults: JSON.parse(faults) as readonly Fault[] }
}
