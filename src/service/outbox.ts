import type { OutboxRow, Store } from '../adapters/sqliteStore.js'

/** Where events go. `publish` resolves when the rows are where they should be, and rejects to have them repeated. */
export interface Sink {
  /** Names the cursor in the store: a sink of another name begins at the first event. */
  readonly name: string
  readonly publish: (rows: readonly OutboxRow[]) => Promise<void>
  readonly close: () => Promise<void>
}

export interface OutboxOptions {
  readonly store: Pick<Store, 'outboxAfter' | 'cursor' | 'moveCursor'>
  readonly sinks: readonly Sink[]
  readonly failed: (sink: string, error: unknown, retryMs: number) => void
  readonly schedule: (afterMs: number, run: () => void) => () => void
}

export interface Outbox {
  /** There may be new events. */
  readonly wake: () => void
  /** True when every sink has everything. */
  readonly drained: () => boolean
  /** Lets each sink finish until the deadline, then closes all; what is left goes out after the next start. */
  readonly stop: (deadlineMs: number) => Promise<void>
}

const PAGE = 200
const FIRST_RETRY_MS = 1_000
const LAST_RETRY_MS = 30_000

/**
 * Publishes the outbox to every sink, each at its own pace and in order. The cursor moves after the sink has the rows:
 * a crash in between repeats them (same ids), and never skips one.
 */
export function startOutbox(options: OutboxOptions): Outbox {
  const pumps = options.sinks.map(sink => startPump(sink, options))
  return {
    wake: () => {
      for (const pump of pumps) pump.wake()
    },
    drained: () => pumps.every(pump => pump.idle()),
    stop: async deadlineMs => {
      await Promise.all(pumps.map(pump => pump.stop(deadlineMs)))
      await Promise.all(options.sinks.map(sink => sink.close()))
    },
  }
}

interface Pump {
  readonly wake: () => void
  readonly idle: () => boolean
  readonly stop: (deadlineMs: number) => Promise<void>
}

function startPump(sink: Sink, { store, failed, schedule }: OutboxOptions): Pump {
  let state: 'idle' | 'busy' | 'waiting' = 'idle'
  let again = false
  let ended = false
  let retryMs = FIRST_RETRY_MS
  let cursor = store.cursor(sink.name)
  let onIdle: (() => void)[] = []

  const idle = () => {
    state = 'idle'
    for (const resolve of onIdle.splice(0)) resolve()
  }

  const next = () => {
    if (ended) return
    again = false
    const rows = store.outboxAfter(cursor, PAGE)
    const last = rows.at(-1)
    if (last === undefined) {
      idle()
      return
    }
    state = 'busy'
    sink.publish(rows).then(
      () => {
        if (ended) return
        cursor = last.seq
        retryMs = FIRST_RETRY_MS
        try {
          store.moveCursor(sink.name, cursor)
        } catch (error) {
          // The rows are out; without the cursor they only go out once more after a crash.
          failed(sink.name, error, 0)
        }
        if (again || rows.length === PAGE) schedule(0, next)
        else idle()
      },
      (error: unknown) => {
        if (ended) return
        failed(sink.name, error, retryMs)
        state = 'waiting'
        schedule(retryMs, next)
        retryMs = Math.min(LAST_RETRY_MS, retryMs * 2)
      },
    )
  }

  next()
  return {
    wake: () => {
      if (state === 'idle') next()
      else again = true
    },
    idle: () => state === 'idle',
    stop: async deadlineMs => {
      if (state !== 'idle') {
        await new Promise<void>(resolve => {
          onIdle.push(resolve)
          schedule(deadlineMs, resolve)
        })
      }
      ended = true
      onIdle = []
    },
  }
}
