import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { NotTaken } from '../../src/adapters/handover.js'
import type { OutboxRow } from '../../src/adapters/sqliteStore.js'
import { type Sink, type SinkNews, startOutbox } from '../../src/service/outbox.js'
import { manualSchedule } from './manualSchedule.js'
import { memoryOutbox, numbers } from './memoryOutbox.js'

/**
 * What a sink does with one page, `share` being percent of it; after its last deed it takes everything, unless it is
 * dead.
 */
type Deed =
  | { readonly kind: 'take' | 'lose_answer' | 'fail'; readonly afterMs: number }
  | { readonly kind: 'take_some'; readonly afterMs: number; readonly share: number }
  | { readonly kind: 'set_aside'; readonly afterMs: number; readonly share: number }
  | { readonly kind: 'wants_time'; readonly afterMs: number; readonly retryAfterMs: number }

interface Script {
  readonly deeds: readonly Deed[]
  readonly isDead: boolean
  /** Takes every second, every third event only. */
  readonly wantsEach: number
}

interface Run {
  readonly scripts: readonly Script[]
  /** New events come then. */
  readonly arrivals: readonly { readonly atMs: number; readonly events: number }[]
  /** The service ends and starts again then. */
  readonly restartsMs: readonly number[]
}

const afterMs = fc.oneof(fc.nat({ max: 2_000 }), fc.nat({ max: 3_600_000 }))
const share = fc.integer({ min: 0, max: 99 })
const deed: fc.Arbitrary<Deed> = fc.oneof(
  fc.record({ kind: fc.constantFrom('take', 'lose_answer', 'fail'), afterMs }),
  fc.record({ kind: fc.constantFrom('take_some', 'set_aside'), afterMs, share }),
  fc.record({ kind: fc.constant('wants_time'), afterMs, retryAfterMs: fc.nat({ max: 7_200_000 }) }),
)
const script: fc.Arbitrary<Script> = fc.record({
  deeds: fc.array(deed, { maxLength: 8 }),
  isDead: fc.boolean(),
  wantsEach: fc.constantFrom(1, 1, 2, 3),
})
const run: fc.Arbitrary<Run> = fc.record({
  scripts: fc.array(script, { minLength: 1, maxLength: 4 }),
  arrivals: fc.array(fc.record({ atMs: fc.nat({ max: 3_600_000 }), events: fc.integer({ min: 1, max: 450 }) }), {
    minLength: 1,
    maxLength: 5,
  }),
  restartsMs: fc.array(fc.nat({ max: 3_600_000 }), { maxLength: 3 }),
})

const LIMITS = { parkAfterMs: 1_800_000, parkAfterEvents: 300 }
const END_MS = 36 * 3_600_000

describe('outbox with any sinks', () => {
  it('brings each every event at least once and in order, however the others do', async () => {
    await fc.assert(
      fc.asyncProperty(run, async given => {
        const together = await play(given, given.scripts)
        for (const [index, script] of given.scripts.entries()) {
          const seen = together[index]!
          const aside = new Set(seen.aside)
          const first = [...new Set(seen.got.map(([seq]) => seq))].filter(seq => !aside.has(seq))
          const wanted = numbers(seen.total).filter(seq => seq % script.wantsEach === 0 && !aside.has(seq))
          // In order and without a gap as far as it goes; a sink that lives goes to the end.
          expect(first).toEqual(wanted.slice(0, first.length))
          if (!script.isDead) expect(first).toEqual(wanted)
          expect(seen.toldAside).toBe(seen.aside.length)
          for (const kinds of seen.parkings) expect(kinds).toEqual(alternating(kinds.length))

          const [alone] = await play(given, [script])
          expect(alone).toEqual(seen)
        }
      }),
      { seed: 7, numRuns: 120 },
    )
  }, 60_000)
})

interface Seen {
  readonly got: readonly (readonly [seq: number, atMs: number])[]
  readonly aside: readonly number[]
  /** Set aside for the first time. */
  readonly toldAside: number
  /** Of each start: parked, recovered, parked … */
  readonly parkings: readonly (readonly SinkNews['kind'][])[]
  readonly total: number
}

/** Lets some of the sinks of a run live through it on a clock of its own. */
async function play({ arrivals, restartsMs }: Run, scripts: readonly Script[]): Promise<Seen[]> {
  const clock = manualSchedule()
  const store = memoryOutbox(0)
  const got = scripts.map((): [number, number][] => [])
  const parkings = scripts.map((): SinkNews['kind'][][] => [])
  const toldAside = scripts.map(() => new Set<number>())
  const left = scripts.map(({ deeds }) => [...deeds])
  const nameOf = (index: number) => `sink ${index}`

  const begin = () => {
    let isUp = true
    const sinks = scripts.map((script, index) => {
      const after = (ms: number) =>
        new Promise<void>(resolve => {
          clock.schedule(ms, () => {
            // What was under way ends with the service.
            if (isUp) resolve()
          })
        })
      const receive = (rows: readonly OutboxRow[]) => {
        for (const { seq } of rows) got[index]!.push([seq, clock.nowMs()])
      }
      parkings[index]!.push([])
      const publish = scripted(script, left[index]!, after, receive)
      return { name: nameOf(index), wants: (row: OutboxRow) => row.seq % script.wantsEach === 0, publish, close }
    })
    const outbox = startOutbox({
      store,
      sinks,
      limits: LIMITS,
      schedule: clock.schedule,
      now: clock.nowMs,
      chance: () => 0.5,
      news: (name, news) => {
        const index = Number(name.slice(5))
        if (news.kind === 'set_aside') toldAside[index]!.add(news.row.seq)
        if (news.kind === 'parked' || news.kind === 'recovered') parkings[index]!.at(-1)!.push(news.kind)
      },
    })
    return {
      wake: outbox.wake,
      end: () => {
        isUp = false
        void outbox.stop(0)
      },
    }
  }

  let service = begin()
  let total = 0
  for (const { atMs, events } of arrivals) {
    clock.schedule(atMs, () => {
      total += events
      store.grow(total)
      service.wake()
    })
  }
  for (const atMs of restartsMs) {
    clock.schedule(atMs, () => {
      service.end()
      service = begin()
    })
  }
  await clock.runUntil(END_MS)
  return scripts.map((_script, index) => ({
    got: got[index]!,
    aside: store.asideFor(nameOf(index)),
    toldAside: toldAside[index]!.size,
    parkings: parkings[index]!,
    total,
  }))
}

const close = async () => {}

function scripted(
  { isDead }: Script,
  deeds: Deed[],
  after: (ms: number) => Promise<void>,
  receive: (rows: readonly OutboxRow[]) => void,
): Sink['publish'] {
  return async (rows, { taken, setAside }) => {
    const deed = deeds.shift() ?? { kind: isDead ? ('fail' as const) : ('take' as const), afterMs: 10 }
    await after(deed.afterMs)
    const part = 'share' in deed ? Math.floor((deed.share / 100) * rows.length) : rows.length
    switch (deed.kind) {
      case 'take':
        receive(rows)
        return
      case 'take_some':
        for (const row of rows.slice(0, part)) {
          receive([row])
          taken(row.seq)
        }
        throw new Error('broken off')
      case 'set_aside':
        for (const [index, row] of rows.entries()) {
          if (index === part) setAside(row, '422')
          else receive([row])
        }
        return
      case 'lose_answer':
        receive(rows)
        throw new Error('no answer')
      case 'wants_time':
        throw new NotTaken('503', { retryAfterMs: deed.retryAfterMs })
      case 'fail':
        throw new Error('no connection')
    }
  }
}

function alternating(length: number): SinkNews['kind'][] {
  return Array.from({ length }, (_, index) => (index % 2 === 0 ? 'parked' : 'recovered'))
}
