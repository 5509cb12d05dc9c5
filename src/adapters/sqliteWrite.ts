import type { DatabaseSyncInstance } from '@photostructure/sqlite'
import { canonicalJson } from '../model/canonicalJson.js'
import { contentHash } from '../model/identity.js'
import type { SeriesTable } from './sqliteSeries.js'
import type { Committed, JournalRow, OutboxRow, RejectRow, StoreBatch } from './sqliteStore.js'

/** Refused messages kept for a person to look at; older ones stay counted and stay in the journal. */
export const REJECTS_KEPT = 10_000
/** Journal rows written with one statement. */
const ROWS = 25

/** Prepares the statements of a batch once and returns the function that writes one batch in one transaction. */
export function writeBatch(db: DatabaseSyncInstance, series: SeriesTable): (batch: StoreBatch) => Committed {
  const sql = {
    last: db.prepare('SELECT seq, input FROM journal ORDER BY seq DESC LIMIT 1'),
    journal: db.prepare('INSERT INTO journal (seq, input) VALUES (?, ?)'),
    journalRows: db.prepare(
      `INSERT INTO journal (seq, input) VALUES ${Array.from({ length: ROWS }, () => '(?, ?)').join(', ')}`,
    ),
    event: db.prepare('INSERT OR IGNORE INTO outbox (id, type, subject, body) VALUES (?, ?, ?, ?)'),
    body: db.prepare('SELECT body FROM outbox WHERE id = ?'),
    meta: db.prepare(
      'INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value',
    ),
    position: db.prepare(
      `INSERT INTO feed_position (feed, position, seq) VALUES (?, ?, ?)
       ON CONFLICT (feed) DO UPDATE SET position = excluded.position, seq = excluded.seq`,
    ),
    reject: db.prepare('INSERT INTO reject (seq, feed, position, faults, excerpt) VALUES (?, ?, ?, ?, ?)'),
    forget: db.prepare(
      `DELETE FROM reject WHERE seq <= (SELECT seq FROM reject ORDER BY seq DESC LIMIT 1 OFFSET ${REJECTS_KEPT})`,
    ),
    rejected: db.prepare(
      `INSERT INTO meta (key, value) VALUES ('rejected', ?)
       ON CONFLICT (key) DO UPDATE SET value = CAST(CAST(value AS INTEGER) + CAST(excluded.value AS INTEGER) AS TEXT)`,
    ),
    state: db.prepare(
      `INSERT INTO state (key, seq, text) VALUES (?, ?, ?)
       ON CONFLICT (key) DO UPDATE SET seq = excluded.seq, text = excluded.text`,
    ),
    dropState: db.prepare('DELETE FROM state WHERE key = ?'),
  }
  let hashes = stateHashes(db)

  return batch => {
    const first = batch.journal[0]
    const newest = batch.journal.at(-1)
    db.exec('BEGIN IMMEDIATE')
    try {
      const last = sql.last.get() as { seq: number; input: string } | undefined
      if (newest !== undefined && last?.seq === newest.seq && last.input === newest.input) {
        // A commit that failed on its last step may still have reached the disk.
        db.exec('ROLLBACK')
        return { differing: [] }
      }
      const expected = (last?.seq ?? 0) + 1
      if (first !== undefined && first.seq !== expected) {
        throw new Error(`the journal goes on at ${expected}, not at ${first.seq}: another process writes to this store`)
      }
      writeJournal(batch.journal)
      const differing = batch.events.filter(event => !insertEvent(event)).map(event => event.id)
      const atSeq = newest?.seq ?? last?.seq ?? 0
      for (const [feed, position] of batch.positions) sql.position.run(feed, position, atSeq)
      writeRejects(batch.rejects)
      if (batch.series !== undefined) series.put(batch.series)
      for (const [key, value] of batch.meta ?? []) sql.meta.run(key, value)
      const saved = batch.state === undefined ? undefined : writeState(batch.state, atSeq)
      db.exec('COMMIT')
      hashes = saved ?? hashes
      return { differing }
    } catch (error) {
      series.undone()
      if (db.isTransaction) db.exec('ROLLBACK')
      throw error
    }
  }

  /** Many rows with one call: what a call costs is most of what a short row costs. */
  function writeJournal(rows: readonly JournalRow[]): void {
    const rest = rows.length % ROWS
    for (let from = 0; from < rows.length - rest; from += ROWS) {
      sql.journalRows.run(...rows.slice(from, from + ROWS).flatMap(row => [row.seq, row.input]))
    }
    for (const row of rows.slice(rows.length - rest)) sql.journal.run(row.seq, row.input)
  }

  /** False where the id is known with another body. */
  function insertEvent(event: Omit<OutboxRow, 'seq'>): boolean {
    if (sql.event.run(event.id, event.type, event.subject, event.body).changes > 0) return true
    const known = sql.body.get(event.id) as { body: string }
    return known.body === event.body || withoutVersion(known.body) === withoutVersion(event.body)
  }

  function writeRejects(rejects: readonly RejectRow[]): void {
    if (rejects.length === 0) return
    for (const row of rejects) {
      sql.reject.run(row.seq, row.feed, row.position ?? null, canonicalJson(row.faults), row.excerpt)
    }
    sql.rejected.run(String(rejects.length))
    sql.forget.run()
  }

  function writeState(rows: ReadonlyMap<string, string>, seq: number): Map<string, string> {
    const next = new Map<string, string>()
    for (const [key, text] of rows) {
      const hash = contentHash(text)
      next.set(key, hash)
      if (hashes.get(key) !== hash) sql.state.run(key, seq, text)
    }
    for (const key of hashes.keys()) if (!next.has(key)) sql.dropState.run(key)
    sql.meta.run('state_seq', String(seq))
    return next
  }
}

function stateHashes(db: DatabaseSyncInstance): Map<string, string> {
  const rows = db.prepare('SELECT key, text FROM state').all() as { key: string; text: string }[]
  return new Map(rows.map(row => [row.key, contentHash(row.text)]))
}

/** An event made again by a newer release is the same event. */
function withoutVersion(body: string): string {
  const { softwareversion: _version, ...rest } = JSON.parse(body) as Record<string, unknown>
  return canonicalJson(rest)
}
