import { type PumpOptions, type Sink, type SinkState, startPump } from './outboxPump.js'

export type { Sink, SinkNews, SinkState } from './outboxPump.js'

export interface OutboxOptions extends PumpOptions {
  readonly sinks: readonly Sink[]
}

export interface Outbox {
  /** There may be new events. */
  readonly wake: () => void
  /** True when every sink has everything. */
  readonly drained: () => boolean
  readonly state: () => readonly SinkState[]
  /** Lets each sink finish until the deadline, then closes all; what is left goes out after the next start. */
  readonly stop: (deadlineMs: number) => Promise<void>
}

/** Publishes the outbox to every sink, each by a pump of its own: none waits for another. */
export function startOutbox(options: OutboxOptions): Outbox {
  const pumps = options.sinks.map(sink => startPump(sink, options))
  return {
    wake: () => {
      for (const pump of pumps) pump.wake()
    },
    drained: () => pumps.every(pump => pump.idle()),
    state: () => pumps.map(pump => pump.state()),
    stop: async deadlineMs => {
      await Promise.all(pumps.map(pump => pump.stop(deadlineMs)))
      // A sink that cannot even be closed must not keep the others, and the service, from ending.
      const closed = Promise.allSettled(options.sinks.map(sink => sink.close()))
      await new Promise<void>(resolve => {
        const cancel = options.schedule(deadlineMs, resolve)
        void closed.then(() => {
          cancel()
          resolve()
        })
      })
    },
  }
}
