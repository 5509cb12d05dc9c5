import { type Handover, NotTaken } from '../adapters/handover.js'
import type { OutboxRow, Store } from '../adapters/sqliteStore.js'
import { type ParkLimits, parkReason, PROBE_MS } from './parking.js'

/** Where events go. `publish` resolves when the rows are where they should be, and rejects to have them repeated. */
export interface Sink {
  /** Names the cursor in the store: a sink of another name begins at the first event. */
  readonly name: string
  /** Which events it takes; default all. The others count as handed over. */
  readonly wants?: (row: OutboxRow) => boolean
  readonly publish: (rows: readonly OutboxRow[], handover: Handover) => Promise<void>
  readonly close: () => Promise<void>
}

/** How a sink is doing. */
export interface SinkState {
  readonly sink: string
  /** Events behind its cursor, those it does not want included. */
  readonly waiting: number
  /** Events its receiver refused for good, in all the time of the store. */
  readonly setAside: number
  /** It took nothing for long and is tried rarely. */
  readonly parked: boolean
}

export type SinkNews =
  /** `failures` in a row; without `retryMs` there is no next attempt. */
  | { readonly kind: 'failed'; readonly error: unknown; readonly failures: number; readonly retryMs?: number }
  /** `forGood`: until the next start. */
  | { readonly kind: 'parked'; readonly waiting: number; readonly reason: string; readonly forGood: boolean }
  | { readonly kind: 'recovered'; readonly waiting: number }
  | { readonly kind: 'set_aside'; readonly row: OutboxRow; readonly reason: string }
  /** The store did not take the cursor: after a crash some events go out again. */
  | { readonly kind: 'cursor_lost'; readonly error: unknown }

export interface PumpOptions {
  readonly store: Pick<Store, 'outboxAfter' | 'cursor' | 'moveCursor' | 'newestEvent' | 'setAside' | 'setAsideTotal'>
  readonly limits: ParkLimits
  readonly news: (sink: string, news: SinkNews) => void
  readonly schedule: (afterMs: number, run: () => void) => () => void
  /** Of a clock that is never set: a sink is not to be parked because the machine's was wrong. */
  readonly now: () => number
  /** 0 to 1, for the jitter of pauses. */
  readonly chance: () => number
}

export interface Pump {
  readonly wake: () => void
  /** The sink has everything. */
  readonly idle: () => boolean
  readonly state: () => SinkState
  readonly stop: (deadlineMs: number) => Promise<void>
}

const PAGE = 200
const FIRST_RETRY_MS = 1_000
const LAST_RETRY_MS = 30_000
const CHECK_MS = 60_000

/**
 * Brings one sink everything in the outbox, in order and at its pace; never has it more than one page under way. The
 * cursor moves after the sink has the rows: a crash in between repeats them (same ids), and never skips one.
 *
 * A sink that takes nothing for long is parked (`parkReason`): told, counted, and tried every `PROBE_MS` only. Its
 * events stay where they are, so that it goes on in order, from where it stood, once it takes one again.
 */
export function startPump(sink: Sink, options: PumpOptions): Pump {
  const { store, limits, schedule, now, chance } = options
  const news = (what: SinkNews) => options.news(sink.name, what)
  let state: 'idle' | 'busy' | 'waiting' | 'ended' = 'idle'
  let again = false
  let cursor = store.cursor(sink.name)
  let setAside = store.setAsideTotal(sink.name)
  let retryMs = FIRST_RETRY_MS
  let failuresInRow = 0
  /** Since when something waits and nothing was taken. */
  let stalledSinceMs = now()
  let parked = false
  let cancelRetry = (): void => {}
  let cancelCheck = (): void => {}
  let whenIdle = (): void => {}

  next()
  return {
    wake: () => {
      again = true
      if (state !== 'idle') return
      stalledSinceMs = now()
      next()
    },
    idle: () => state === 'idle',
    state: () => ({
      sink: sink.name,
      waiting: waiting(),
      setAside,
      parked,
    }),
    stop: async deadlineMs => {
      if (state !== 'idle' && !parked) {
        await new Promise<void>(resolve => {
          const cancel = schedule(deadlineMs, resolve)
          whenIdle = () => {
            cancel()
            resolve()
          }
        })
      }
      state = 'ended'
      cancelRetry()
      cancelCheck()
    },
  }

  function next(): void {
    if (state === 'ended') return
    again = false
    let rows: readonly OutboxRow[]
    try {
      rows = store.outboxAfter(cursor, PAGE)
    } catch (error) {
      failed(error)
      return
    }
    const last = rows.at(-1)
    if (last === undefined) {
      rest()
      return
    }
    state = 'busy'
    cancelCheck()
    if (!parked) cancelCheck = schedule(CHECK_MS, check)
    const wanted = sink.wants === undefined ? rows : rows.filter(sink.wants)
    const goOn = () => {
      moveTo(last.seq)
      if (again || rows.length === PAGE) cancelRetry = schedule(0, next)
      else rest()
    }
    if (wanted.length === 0) {
      goOn()
      return
    }
    handOver(wanted).then(
      () => {
        if (state === 'ended') return
        tookSome()
        goOn()
      },
      (error: unknown) => {
        if (state !== 'ended') failed(error)
      },
    )
  }

  async function handOver(rows: readonly OutboxRow[]): Promise<void> {
    await sink.publish(rows, {
      taken: seq => {
        if (state === 'ended') return
        tookSome()
        moveTo(seq)
      },
      setAside: (row, reason) => {
        if (state === 'ended') return
        store.setAside(sink.name, row.seq, reason)
        // Said twice it counts once.
        setAside = store.setAsideTotal(sink.name)
        news({ kind: 'set_aside', row, reason })
      },
    })
  }

  function tookSome(): void {
    stalledSinceMs = now()
    retryMs = FIRST_RETRY_MS
    failuresInRow = 0
    if (!parked) return
    parked = false
    news({ kind: 'recovered', waiting: waiting() })
  }

  function moveTo(seq: number): void {
    if (seq <= cursor) return
    cursor = seq
    try {
      store.moveCursor(sink.name, cursor)
    } catch (error) {
      news({ kind: 'cursor_lost', error })
    }
  }

  function failed(error: unknown): void {
    failuresInRow++
    state = 'waiting'
    const { retryAfterMs = 0, forGood = false } = error instanceof NotTaken ? error : {}
    const reason = forGood ? 'its receiver wants no more' : reasonToPark()
    const isParked = parked || reason !== undefined
    const pauseMs = Math.max(retryAfterMs, isParked ? PROBE_MS : Math.round(retryMs * (1 - chance() / 2)))
    retryMs = Math.min(LAST_RETRY_MS, retryMs * 2)
    news({ kind: 'failed', error, failures: failuresInRow, ...(forGood ? {} : { retryMs: pauseMs }) })
    if (reason !== undefined) park(reason, forGood)
    cancelCheck()
    if (!forGood) cancelRetry = schedule(pauseMs, next)
  }

  /** Also while a hand-over neither succeeds nor fails, as with a broker that is away. */
  function check(): void {
    const reason = reasonToPark()
    if (reason === undefined) cancelCheck = schedule(CHECK_MS, check)
    else park(reason, false)
  }

  function reasonToPark(): string | undefined {
    if (parked) return undefined
    return parkReason(now() - stalledSinceMs, waiting(), limits)
  }

  function park(reason: string, forGood: boolean): void {
    parked = true
    news({ kind: 'parked', waiting: waiting(), reason, forGood })
  }

  function rest(): void {
    state = 'idle'
    cancelCheck()
    whenIdle()
  }

  function waiting(): number {
    return Math.max(0, newest() - cursor)
  }

  /** A store that cannot be read for a moment is what made the attempt fail; it is not to end the process here. */
  function newest(): number {
    try {
      return store.newestEvent()
    } catch {
      return cursor
    }
  }
}
