import { appendFileSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import { setImmediate as nextTurn } from 'node:timers/promises'
import { describe, expect, it } from 'vitest'
import { OUTBOX_LIMITS } from '../../src/adapters/connectionsFile.js'
import { fileSink, streamSink } from '../../src/service/ndjsonSink.js'
import { type Outbox, type Sink, startOutbox } from '../../src/service/outbox.js'
import { schedule } from '../../src/service/schedule.js'
import { eventually } from '../support/eventually.js'
import { manualSchedule } from './manualSchedule.js'
import { memoryOutbox, numbers } from './memoryOutbox.js'

describe('outbox', () => {
  it('says how its sinks are doing while its store can be read no more, as that of a service that ends', async () => {
    const store = memoryOutbox(2)
    const outbox = start(store, [
      sink('web', async ([first], { setAside, taken }) => {
        setAside(first!, 'refused')
        taken(2)
      }),
    ])
    await eventually('it has all', () => outbox.drained())
    const closed = (): never => {
      throw new Error('database is not open')
    }
    Object.assign(store, { newestEvent: closed, setAsideTotal: closed, outboxAfter: closed })
    expect(outbox.state()).toMatchObject([{ sink: 'web', waiting: 0, setAside: 1 }])
    await outbox.stop(1)
  })

  it('lets no slow sink delay another', async () => {
    const store = memoryOutbox(450)
    const fast: number[] = []
    let release: () => void = () => {}
    const held = new Promise<void>(resolve => {
      release = resolve
    })
    const outbox = start(store, [
      sink('slow', () => held),
      sink('fast', async rows => void fast.push(...rows.map(row => row.seq))),
    ])
    await eventually('the fast sink has all', () => fast.length === 450)
    expect(fast).toEqual(numbers(450))
    expect(store.cursors).toEqual(new Map([['fast', 450]]))
    expect(outbox.drained()).toBe(false)
    release()
    await eventually('the slow one has all, later', () => outbox.drained())
    expect(store.cursors.get('slow')).toBe(450)
    await outbox.stop(1)
  })

  it('repeats a page that failed, with growing pauses, and skips nothing', async () => {
    const store = memoryOutbox(3)
    const clock = manualSchedule()
    const tried: number[][] = []
    let failures = 3
    const pauses: number[] = []
    const outbox = startOutbox({
      store,
      sinks: [
        sink('mqtt', async rows => {
          tried.push(rows.map(row => row.seq))
          if (failures-- > 0) throw new Error('no connection')
        }),
      ],
      limits: OUTBOX_LIMITS,
      schedule: clock.schedule,
      now: clock.nowMs,
      chance: () => 0,
      news: (_sink, news) => {
        if (news.kind === 'failed') pauses.push(news.retryMs!)
      },
    })
    await eventually('it gets through', () => {
      clock.runNext()
      return outbox.drained()
    })
    expect(tried).toEqual([
      [1, 2, 3],
      [1, 2, 3],
      [1, 2, 3],
      [1, 2, 3],
    ])
    expect(pauses).toEqual([1_000, 2_000, 4_000])
    expect(store.cursors.get('mqtt')).toBe(3)
  })

  it('hands out what comes later, in order and once', async () => {
    const store = memoryOutbox(1)
    const got: number[] = []
    const outbox = start(store, [sink('one', async rows => void got.push(...rows.map(row => row.seq)))])
    for (const total of [2, 3, 250, 251]) {
      store.grow(total)
      outbox.wake()
    }
    await eventually('all came', () => got.length === 251 && outbox.drained())
    expect(got).toEqual(numbers(251))
    store.grow(252)
    outbox.wake()
    await outbox.stop(60_000)
    expect(got).toHaveLength(252)
  })
})

describe('NDJSON sinks', () => {
  it('cuts off a line torn by a crash and goes on behind the last whole one', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'turbidrift-events-'))
    const path = join(folder, 'events.ndjson')
    const [first, second] = memoryOutbox(2).outboxAfter(0, 2)
    const one = fileSink('events', path)
    await one.publish([first!], NO_HANDOVER)
    await one.close()
    appendFileSync(path, `{"torn":"${'x'.repeat(100_000)}`)
    const two = fileSink('events', path)
    await two.publish([second!], NO_HANDOVER)
    await two.close()
    expect(readFileSync(path, 'utf8')).toBe('{"n":1}\n{"n":2}\n')
    rmSync(folder, { recursive: true })
  })

  it('holds a whole line of every event of several plants that write to one file', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'turbidrift-events-'))
    const path = join(folder, 'events.ndjson')
    const plants = [1, 2, 3].map(n => fileSink(`plant-${n}`, path))
    const rows = memoryOutbox(40).outboxAfter(0, 40)
    await Promise.all(rows.flatMap(row => plants.map(plant => plant.publish([row], NO_HANDOVER))))
    await plants[0]!.close()
    await plants[1]!.publish(rows, NO_HANDOVER)
    for (const plant of plants.slice(1)) await plant.close()
    const lines = readFileSync(path, 'utf8').split('\n')
    const events = rows.map(({ body }) => body)
    expect(lines.pop()).toBe('')
    expect(lines.slice(0, 120)).toEqual(events.flatMap(body => [body, body, body]))
    expect(lines.slice(120)).toEqual(events)
    rmSync(folder, { recursive: true })
  })

  it('waits for a slow reader of the stream', async () => {
    const stream = new PassThrough({ highWaterMark: 4 })
    const sink = streamSink('stdout', stream)
    let done = false
    const publishing = sink.publish(memoryOutbox(1).outboxAfter(0, 1), NO_HANDOVER).then(() => (done = true))
    await nextTurn()
    expect(done).toBe(false)
    expect(String(stream.read())).toBe('{"n":1}\n')
    await publishing
  })

  it('gives up a stream whose reader has gone', async () => {
    const stream = new PassThrough({ highWaterMark: 4 })
    const sink = streamSink('stdout', stream)
    const publishing = sink.publish(memoryOutbox(1).outboxAfter(0, 1), NO_HANDOVER)
    stream.destroy(new Error('EPIPE'))
    for (const gone of [publishing, sink.publish(memoryOutbox(1).outboxAfter(0, 1), NO_HANDOVER)]) {
      await expect(gone).rejects.toMatchObject({ name: 'NotTaken', forGood: true })
    }
  })
})

const NO_HANDOVER = { taken: () => {}, setAside: () => {} }

function sink(name: string, publish: Sink['publish']): Sink {
  return { name, publish, close: async () => {} }
}

function start(store: ReturnType<typeof memoryOutbox>, sinks: Sink[]): Outbox {
  const quiet = { news: () => {}, now: Date.now, chance: Math.random }
  return startOutbox({ store, sinks, limits: OUTBOX_LIMITS, schedule, ...quiet })
}
