import { setImmediate as nextTurn } from 'node:timers/promises'
import { describe, expect, it } from 'vitest'
import { NotTaken } from '../../src/adapters/handover.js'
import { type Sink, type SinkNews, startOutbox } from '../../src/service/outbox.js'
import { manualSchedule } from './manualSchedule.js'
import { memoryOutbox, numbers } from './memoryOutbox.js'

const MINUTE_MS = 60_000
const HOUR_MS = 3_600_000
const LIMITS = { parkAfterMs: 168 * HOUR_MS, parkAfterEvents: 1_000 }

describe('a sink that takes nothing', () => {
  it('is parked after the time stated, told once, tried every ten minutes, and goes on in order', async () => {
    const { store, sink, outbox, told, runUntil, clock } = start(3)
    sink.refuses()
    await runUntil(168 * HOUR_MS - 1)
    expect(told('parked')).toEqual([])
    expect(outbox.state()[0]).toMatchObject({ parked: false })
    await runUntil(168 * HOUR_MS + MINUTE_MS)
    const reason = 'it took nothing for 168 h'
    expect(told('parked')).toEqual([{ kind: 'parked', waiting: 3, reason, forGood: false }])
    expect(outbox.state()[0]).toMatchObject({ waiting: 3, parked: true })

    store.grow(500)
    outbox.wake()
    const before = sink.attempts()
    await runUntil(clock.nowMs() + HOUR_MS)
    expect(sink.attempts() - before).toBe(6)
    expect(outbox.state()[0]).toMatchObject({ sink: 'webhook', waiting: 500, setAside: 0, parked: true })

    sink.recovers()
    await runUntil(clock.nowMs() + 10 * MINUTE_MS)
    expect(sink.got).toEqual(numbers(500))
    expect(told('parked')).toHaveLength(1)
    expect(told('recovered')).toEqual([{ kind: 'recovered', waiting: 500 }])
    expect(outbox.state()[0]).toMatchObject({ waiting: 0, parked: false })
    expect(outbox.drained()).toBe(true)
  })

  it('is parked after ten minutes with more events waiting than stated, not sooner and not with fewer', async () => {
    const { store, sink, outbox, told, runUntil } = start(1_000)
    sink.refuses()
    await runUntil(HOUR_MS)
    expect(told('parked')).toEqual([])
    store.grow(1_001)
    await runUntil(HOUR_MS + MINUTE_MS)
    expect(told('parked')).toMatchObject([{ reason: 'it takes nothing and more than 1000 events wait' }])
    await outbox.stop(1)

    const many = start(5_000)
    many.sink.refuses()
    await many.runUntil(9 * MINUTE_MS)
    expect(many.told('parked')).toEqual([])
    await many.runUntil(11 * MINUTE_MS)
    expect(many.told('parked')).toHaveLength(1)
  })

  it('is parked too where a hand-over neither succeeds nor fails, and goes on when it does', async () => {
    const { sink, told, runUntil, outbox } = start(2)
    sink.hangs()
    await runUntil(200 * HOUR_MS)
    expect(sink.attempts()).toBe(1)
    expect(told('failed')).toEqual([])
    expect(told('parked')).toHaveLength(1)
    sink.recovers()
    await nextTurn()
    expect(outbox.drained()).toBe(true)
    expect(told('recovered')).toHaveLength(1)
  })

  it('is left alone until the next start where its receiver wants no more', async () => {
    const { store, sink, outbox, told, runUntil } = start(2)
    sink.refuses(() => new NotTaken('410, gone', { forGood: true }))
    await runUntil(MINUTE_MS)
    expect(told('parked')).toEqual([
      { kind: 'parked', waiting: 2, reason: 'its receiver wants no more', forGood: true },
    ])
    expect(told('failed')[0]).not.toHaveProperty('retryMs')
    store.grow(9)
    outbox.wake()
    await runUntil(1_000 * HOUR_MS)
    expect(sink.attempts()).toBe(1)
    expect(outbox.state()[0]).toMatchObject({ waiting: 9, parked: true })
    await outbox.stop(MINUTE_MS)

    const again = start(9, store.cursor('webhook'))
    await again.runUntil(1)
    expect(again.sink.got).toEqual(numbers(9))
  })
})

describe('a sink that is fine', () => {
  it('is not parked for having had nothing to take for a year', async () => {
    const { store, sink, outbox, told, runUntil, clock } = start(0)
    clock.schedule(8_760 * HOUR_MS, () => {
      store.grow(1)
      sink.refuses()
      outbox.wake()
    })
    await runUntil(8_761 * HOUR_MS)
    expect(told('failed').length).toBeGreaterThan(1)
    expect(told('parked')).toEqual([])
  })

  it('is not parked for being slow with many waiting', async () => {
    const { sink, told, runUntil } = start(10_000)
    sink.takesOneIn(5 * MINUTE_MS)
    await runUntil(20 * HOUR_MS + 1)
    expect(sink.got).toEqual(numbers(240))
    expect(told('parked')).toEqual([])
  })
})

describe('the pauses of a sink that fails', () => {
  it('grow to half a minute, shortened by chance to no less than half', async () => {
    for (const [chance, expected] of [
      [0, [1_000, 2_000, 4_000, 8_000, 16_000, 30_000, 30_000]],
      [1, [500, 1_000, 2_000, 4_000, 8_000, 15_000, 15_000]],
    ] as const) {
      const { sink, told, runUntil } = start(1, 0, chance)
      sink.refuses()
      await runUntil(90_000)
      const pauses = told('failed').map(news => (news.kind === 'failed' ? news.retryMs : undefined))
      expect(pauses.slice(0, 7)).toEqual(expected)
    }
  })

  it('are as long as the receiver asks for', async () => {
    const { sink, told, runUntil } = start(1)
    sink.refuses(() => new NotTaken('503', { retryAfterMs: 2 * HOUR_MS }))
    await runUntil(5 * HOUR_MS)
    expect(sink.attempts()).toBe(3)
    expect(told('failed')).toMatchObject([{ retryMs: 2 * HOUR_MS }, { retryMs: 2 * HOUR_MS }, { retryMs: 2 * HOUR_MS }])
  })
})

describe('the end', () => {
  it('waits for no sink, and for no closing of one, beyond its deadline', async () => {
    const { sink, outbox, clock, store } = start(2)
    sink.hangs()
    sink.closesNever()
    let ended = false
    const stopping = outbox.stop(3_000).then(() => (ended = true))
    await nextTurn()
    expect(ended).toBe(false)
    for (const _deadline of ['to finish', 'to close']) {
      clock.runNext()
      await nextTurn()
    }
    await stopping
    expect(clock.nowMs()).toBe(6_000)
    sink.recovers()
    await nextTurn()
    expect(store.cursor('webhook')).toBe(0)
  })
})

/** An outbox with one sink whose behaviour a test sets. */
function start(count: number, from = 0, chance = 0) {
  const clock = manualSchedule()
  const store = memoryOutbox(count)
  store.moveCursor('webhook', from)
  const sink = changeableSink(clock.schedule)
  const news: SinkNews[] = []
  const outbox = startOutbox({
    store,
    sinks: [sink.sink],
    limits: LIMITS,
    schedule: clock.schedule,
    now: clock.nowMs,
    chance: () => chance,
    news: (_sink, what) => news.push(what),
  })
  return {
    clock,
    store,
    sink,
    outbox,
    runUntil: clock.runUntil,
    told: (kind: SinkNews['kind']) => news.filter(n => n.kind === kind),
  }
}

function changeableSink(schedule: (afterMs: number, run: () => void) => () => void) {
  const got: number[] = []
  let attempts = 0
  let behave: Sink['publish'] = async rows => void got.push(...rows.map(({ seq }) => seq))
  const takeAll = behave
  let release = (): void => {}
  let close = async (): Promise<void> => {}
  const sink: Sink = {
    name: 'webhook',
    publish: async (rows, handover) => {
      // What a test sets right after the start is to hold for the first page.
      await Promise.resolve()
      attempts++
      await behave(rows, handover)
    },
    close: () => close(),
  }
  return {
    sink,
    got: got as readonly number[],
    attempts: () => attempts,
    refuses: (error = () => new Error('503')) => {
      behave = () => Promise.reject(error())
    },
    hangs: () => {
      behave = () =>
        new Promise(resolve => {
          release = resolve
        })
    },
    takesOneIn: (ms: number) => {
      behave = async (rows, { taken }) => {
        for (const { seq } of rows) {
          await new Promise<void>(resolve => {
            schedule(ms, resolve)
          })
          got.push(seq)
          taken(seq)
        }
      }
    },
    closesNever: () => {
      close = () => new Promise(() => {})
    },
    recovers: () => {
      behave = takeAll
      release()
    },
  }
}
