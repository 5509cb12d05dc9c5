import type { DatabaseSyncInstance } from '@photostructure/sqlite'
import type { SeriesPoint } from '../core/series.js'

/** Numbers of points. */
export interface SeriesCounts {
  readonly waiting: number
  /** Since the store was made: because too many waited, and by the receiver for good. */
  readonly dropped: number
  readonly refused: number
}

/** Points for a dashboard's database that wait to be written there, oldest first. */
export interface SeriesQueue {
  /** Points of the oldest rows, at most so many but one row at least; undefined where none waits. */
  readonly oldest: (most: number) => { readonly seq: number; readonly points: readonly SeriesPoint[] } | undefined
  /** The rows up to a number are done with. @param refused points of them that the receiver will never take */
  readonly settle: (seq: number, refused: number) => void
  readonly counts: () => SeriesCounts
}

/** The queue with the side of it that belongs into the transaction of a batch. */
export interface SeriesTable extends SeriesQueue {
  readonly put: (points: readonly SeriesPoint[]) => void
  /** The transaction was undone. */
  readonly undone: () => void
}

/**
 * Points that may wait; beyond it the oldest are dropped and counted. About 280 MB: a year of sixteen analyzers, a week
 * of a thousand.
 */
export const SERIES_KEPT = 1_000_000
/** Points in one row: a late fact brings ten days of them at once. */
const ROW_POINTS = 1_000

/** Table `series` of a store. Statements are prepared when first used, since an old store that is only read lacks it. */
export function seriesTable(db: DatabaseSyncInstance, kept = SERIES_KEPT): SeriesTable {
  let prepared: ReturnType<typeof prepare> | undefined
  const sql = () => (prepared ??= prepare(db))
  /** Counted once: with a million waiting it takes a while. */
  let known: number | undefined
  const waiting = () => (known ??= (sql().sum.get() as { n: number }).n)
  const count = (key: string) => Number((sql().count.get(key) as { value: string } | undefined)?.value ?? 0)

  return {
    put: points => {
      if (points.length === 0) return
      let left = waiting() + points.length
      for (let from = 0; from < points.length; from += ROW_POINTS) {
        const row = points.slice(from, from + ROW_POINTS)
        sql().insert.run(row.length, JSON.stringify(row))
      }
      let dropped = 0
      while (left - dropped > kept) {
        const row = sql().sizes.get(1) as { seq: number; points: number }
        sql().remove.run(row.seq)
        dropped += row.points
      }
      left -= dropped
      if (dropped > 0) sql().add.run('series_dropped', String(dropped))
      known = left
    },
    undone: () => {
      known = undefined
    },
    oldest: most => {
      let [seq, sum] = [0, 0]
      for (const row of sql().sizes.all(PAGE_ROWS) as { seq: number; points: number }[]) {
        sum += row.points
        if (seq > 0 && sum > most) break
        seq = row.seq
      }
      if (seq === 0) return undefined
      const rows = sql().bodies.all(seq) as { body: string }[]
      return { seq, points: rows.flatMap(row => JSON.parse(row.body) as SeriesPoint[]) }
    },
    settle: (seq, refused) => {
      const before = waiting()
      known = undefined
      db.exec('BEGIN IMMEDIATE')
      try {
        const { n } = sql().upTo.get(seq) as { n: number }
        sql().remove.run(seq)
        if (refused > 0) sql().add.run('series_refused', String(refused))
        db.exec('COMMIT')
        known = before - n
      } catch (error) {
        if (db.isTransaction) db.exec('ROLLBACK')
        throw error
      }
    },
    counts: () => ({ waiting: waiting(), dropped: count('series_dropped'), refused: count('series_refused') }),
  }
}

const PAGE_ROWS = 500

function prepare(db: DatabaseSyncInstance) {
  return {
    insert: db.prepare('INSERT INTO series (points, body) VALUES (?, ?)'),
    sizes: db.prepare('SELECT seq, points FROM series ORDER BY seq LIMIT ?'),
    bodies: db.prepare('SELECT body FROM series WHERE seq <= ? ORDER BY seq'),
    remove: db.prepare('DELETE FROM series WHERE seq <= ?'),
    sum: db.prepare('SELECT coalesce(sum(points), 0) AS n FROM series'),
    upTo: db.prepare('SELECT coalesce(sum(points), 0) AS n FROM series WHERE seq <= ?'),
    count: db.prepare('SELECT value FROM meta WHERE key = ?'),
    add: db.prepare(
      `INSERT INTO meta (key, value) VALUES (?, ?)
       ON CONFLICT (key) DO UPDATE SET value = CAST(CAST(value AS INTEGER) + CAST(excluded.value AS INTEGER) AS TEXT)`,
    ),
  }
}
