import { formatInstant, MINUTE_MS } from '../model/time.js'

export interface ClockTickOptions {
  readonly now: () => number
  readonly schedule: (afterMs: number, run: () => void) => () => void
  readonly feedsNotLive: (atMs: number) => readonly string[]
  /** Feeds that nobody listened to while the service was away: the first tick, which works through that time, lists them. */
  readonly feedsMissed: readonly string[]
  readonly tick: (message: ClockTick) => void
}

export interface ClockTick {
  readonly kind: 'tick'
  readonly time: string
  readonly feedsDown?: readonly string[]
}

/** A tick at each full minute of the machine's clock. @returns what ends it */
export function startClockTicks({ now, schedule, feedsNotLive, feedsMissed, tick }: ClockTickOptions): () => void {
  let missed = feedsMissed
  let cancel = plan()
  return () => cancel()

  function plan(): () => void {
    const untilNextMs = MINUTE_MS - (now() % MINUTE_MS)
    return schedule(untilNextMs, () => {
      const atMs = now()
      const feedsDown = [...new Set([...missed, ...feedsNotLive(atMs)])].sort()
      missed = []
      tick({
        kind: 'tick',
        // A timer may fire a few milliseconds early.
        time: formatInstant(Math.round(atMs / MINUTE_MS) * MINUTE_MS),
        ...(feedsDown.length === 0 ? {} : { feedsDown }),
      })
      cancel = plan()
    })
  }
}
