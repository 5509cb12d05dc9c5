import { DatabaseSync } from '@photostructure/sqlite'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { prepareSchema } from '../../src/adapters/sqliteSchema.js'
import { seriesTable } from '../../src/adapters/sqliteSeries.js'
import { openStore } from '../../src/adapters/sqliteStore.js'
import type { SeriesPoint } from '../../src/core/series.js'

const point = (atMs: number): SeriesPoint => ({
  measurement: 'turbidity_block',
  tags: { plant: 'p', analyzer: 'CFE-A' },
  fields: { medianNtu: 0.1, use: 'used' },
  atMs,
})
const points = (from: number, count: number) => Array.from({ length: count }, (_, i) => point(from + i))

function openTable(kept?: number) {
  const db = new DatabaseSync(':memory:')
  prepareSchema(db, 'p')
  return seriesTable(db, kept)
}

describe('points that wait in the store', () => {
  it('come in the transaction of their batch, and not where that is undone', () => {
    const opened = openStore(':memory:', 'p')
    if (!opened.ok) throw new Error(opened.problem)
    const { store } = opened
    const batch = (seq: number) => ({
      journal: [{ seq, input: '{}' }],
      positions: new Map<string, string>(),
      events: [],
      rejects: [],
      series: points(seq * 10, 3),
    })
    store.commit(batch(1))
    expect(() => store.commit(batch(3))).toThrow('the journal goes on at 2')
    expect(store.series.counts()).toEqual({ waiting: 3, dropped: 0, refused: 0 })
    store.commit(batch(2))
    // The same batch once more, as after a commit whose last step failed.
    store.commit(batch(2))
    expect(store.series.oldest(100)?.points).toEqual([...points(10, 3), ...points(20, 3)])
  })

  it('go out in whole rows, at most so many points but one row at least', () => {
    const table = openTable()
    table.put(points(0, 2_500))
    table.put(points(5_000, 10))
    expect(table.oldest(1)?.points).toHaveLength(1_000)
    expect(table.oldest(2_000)?.points).toHaveLength(2_000)
    expect(table.oldest(2_600)?.points).toEqual([...points(0, 2_500), ...points(5_000, 10)])
  })

  it('lose the oldest beyond what is kept, and count them', () => {
    const table = openTable(2_000)
    table.put(points(0, 1_500))
    table.put(points(1_500, 900))
    expect(table.counts()).toEqual({ waiting: 1_400, dropped: 1_000, refused: 0 })
    expect(table.oldest(1)?.points[0]).toEqual(point(1_000))
  })

  it('are never lost, doubled or out of order, whatever is put, taken and settled in turn', () => {
    const steps = fc.array(
      fc.oneof(
        fc.record({ put: fc.integer({ min: 0, max: 1_700 }) }),
        fc.record({ take: fc.integer({ min: 1, max: 3_000 }), refuse: fc.integer({ min: 0, max: 2 }) }),
      ),
      { maxLength: 24 },
    )
    const KEPT = 4_000
    fc.assert(
      fc.property(steps, sequence => {
        const table = openTable(KEPT)
        const out: number[] = []
        let [put, refused] = [0, 0]
        for (const one of sequence) {
          if ('put' in one) {
            table.put(points(put, one.put))
            put += one.put
          } else {
            const taken = table.oldest(one.take)
            if (taken === undefined) continue
            out.push(...taken.points.map(({ atMs }) => atMs))
            table.settle(taken.seq, one.refuse)
            refused += one.refuse
          }
        }
        const counts = table.counts()
        expect(counts.refused).toBe(refused)
        expect(out.length + counts.waiting + counts.dropped).toBe(put)
        expect(counts.waiting).toBeLessThanOrEqual(KEPT)
        expect(out).toEqual([...new Set(out)].sort((a, b) => a - b))
        const rest = table.oldest(KEPT)?.points ?? []
        expect(rest.map(({ atMs }) => atMs)).toEqual(
          points(put - counts.waiting, counts.waiting).map(({ atMs }) => atMs),
        )
      }),
      { seed: 20_260_401, numRuns: 60 },
    )
  })
})
