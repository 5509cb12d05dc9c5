import { DatabaseSync } from '@photostructure/sqlite'
import { setImmediate as nextTurn } from 'node:timers/promises'
import { describe, expect, it } from 'vitest'
import { prepareSchema } from '../../src/adapters/sqliteSchema.js'
import { seriesTable } from '../../src/adapters/sqliteSeries.js'
import type { SeriesPoint } from '../../src/core/series.js'
import { schedule } from '../../src/service/schedule.js'
import { type SeriesNews, startSeriesPump } from '../../src/service/seriesPump.js'
import { eventually } from '../support/eventually.js'
import { manualSchedule } from './manualSchedule.js'

const points = (from: number, count: number): SeriesPoint[] =>
  Array.from({ length: count }, (_, i) => ({
    measurement: 'turbidity_block',
    tags: { plant: 'p' },
    fields: { medianNtu: 0.1 },
    atMs: from + i,
  }))

function openQueue(kept?: number) {
  const db = new DatabaseSync(':memory:')
  prepareSchema(db, 'p')
  return seriesTable(db, kept)
}

describe('pump of points', () => {
  it('writes what waits and what comes, oldest first, in requests of a bounded size', async () => {
    const queue = openQueue()
    queue.put(points(0, 4_500))
    const sizes: number[] = []
    const times: number[] = []
    const write = async (given: readonly SeriesPoint[]) => {
      sizes.push(given.length)
      times.push(...given.map(one => one.atMs))
      return { refused: 0, because: undefined }
    }
    const pump = startSeriesPump({ queue, write, schedule, news: () => {} })
    await eventually('all is out', () => pump.drained())
    queue.put(points(4_500, 20))
    expect(pump.drained()).toBe(false)
    pump.wake()
    await eventually('the new ones are out', () => pump.drained())
    expect(times).toEqual(points(0, 4_520).map(one => one.atMs))
    expect(Math.max(...sizes)).toBeLessThanOrEqual(5_000)
    await pump.stop(1)
  })

  it('tries again with growing pauses, up to a minute, and tells each problem once', async () => {
    const queue = openQueue()
    queue.put(points(0, 3))
    const clock = manualSchedule()
    const news: SeriesNews[] = []
    const tried: number[] = []
    let problem: string | undefined = 'nothing listens'
    const write = async (given: readonly SeriesPoint[]) => {
      tried.push(given.length)
      if (problem !== undefined) throw new Error(problem)
      return { refused: 0, because: undefined }
    }
    const pump = startSeriesPump({ queue, write, schedule: clock.schedule, news: one => news.push(one) })
    const pauses: number[] = []
    for (let i = 0; i < 8; i++) {
      await nextTurn()
      if (i === 5) problem = 'no database'
      const beforeMs = clock.nowMs()
      clock.runNext()
      pauses.push(clock.nowMs() - beforeMs)
    }
    await nextTurn()
    expect(pauses).toEqual([1_000, 2_000, 4_000, 8_000, 16_000, 32_000, 60_000, 60_000])
    problem = undefined
    queue.put(points(3, 2))
    pump.wake()
    expect(tried.every(count => count === 3)).toBe(true)
    await eventually('all is out', () => {
      clock.runNext()
      return pump.drained()
    })
    expect(news).toEqual([
      { state: 'failing', problem: 'nothing listens' },
      { state: 'failing', problem: 'no database' },
      { state: 'writing' },
    ])
  })

  it('counts and tells what is refused for good, and what too long a wait has dropped', async () => {
    const queue = openQueue(2_000)
    queue.put(points(0, 10))
    const news: SeriesNews[] = []
    let isFirst = true
    const write = async () => {
      const refused = isFirst ? 4 : 0
      isFirst = false
      return { refused, because: 'field type conflict' }
    }
    const pump = startSeriesPump({ queue, write, schedule, news: one => news.push(one) })
    await eventually('all is out', () => pump.drained())
    expect(news).toEqual([{ state: 'refused', points: 4, because: 'field type conflict' }])
    expect(queue.counts()).toEqual({ waiting: 0, dropped: 0, refused: 4 })
    queue.put(points(10, 3_000))
    pump.wake()
    expect(news.at(-1)).toEqual({ state: 'dropped', points: 1_000 })
    await pump.stop(1_000)
  })

  it('waits at its end for the request under way, and no longer than told; what is left stays in the queue', async () => {
    const queue = openQueue()
    queue.put(points(0, 10))
    const clock = manualSchedule()
    const pump = startSeriesPump({
      queue,
      write: () => new Promise(() => {}),
      schedule: clock.schedule,
      news: () => {},
    })
    let isStopped = false
    const stopping = pump.stop(3_000).then(() => (isStopped = true))
    await nextTurn()
    expect(isStopped).toBe(false)
    clock.runNext()
    expect(clock.nowMs()).toBe(3_000)
    await stopping
    expect(queue.counts().waiting).toBe(10)
  })

  it('leaves nothing behind that would keep the process when the request ends in time', async () => {
    const queue = openQueue()
    queue.put(points(0, 10))
    const clock = manualSchedule()
    let answer = (_: { refused: number; because: undefined }): void => {}
    const write = () =>
      new Promise<{ refused: number; because: undefined }>(resolve => {
        answer = resolve
      })
    const pump = startSeriesPump({ queue, write, schedule: clock.schedule, news: () => {} })
    const stopping = pump.stop(3_000)
    answer({ refused: 0, because: undefined })
    await stopping
    expect(queue.counts().waiting).toBe(0)
    expect(clock.runNext()).toBe(false)
  })
})
