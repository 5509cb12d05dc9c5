import { formatInstant, MINUTE_MS } from '../model/time.js'

export interface ClockTickOptions {
  readonly now: () => number
  readonly schedule: (afterMs: number, run: () => void) => () => void
  readonly feedsNotLive: (atMs: number) => readonly string[]
  /** Feeds that nobody listened to while the service was away: the first tick, which works through that time, lists them. */
  readonly feedsMissed: readonly string[]
  /** All feeds: nobody listened to any of them in time that the clock skipped. */
  readonly feeds: readonly string[]
  /** The clock was set, or the machine slept. @param byMs below 0: backwards */
  readonly jumped: (byMs: number) => void
  readonly tick: (message: ClockTick) => void
}

export interface ClockTick {
  readonly kind: 'tick'
  readonly time: string
  readonly feedsDown?: readonly string[]
}

/** Further from the wait that was asked for than any load of the machine explains. */
const JUMP_MS = 2 * MINUTE_MS

/**
 * A tick at each full minute of the machine's clock. Where the clock jumps forward, the tick that works through the time
 * skipped lists all feeds, as after a start: what was not heard then was not heard by us, and is nobody's silence. Where
 * it is set back, ticks go on and move nothing until the clock has passed the last of before: plant time never goes back.
 * @returns what ends it
 */
export function startClockTicks(options: ClockTickOptions): () => void {
  const { now, schedule, feedsNotLive, feeds, jumped, tick } = options
  let missed = options.feedsMissed
  let cancel = plan()
  return () => cancel()

  function plan(): () => void {
    const plannedMs = now()
    const untilNextMs = MINUTE_MS - (plannedMs % MINUTE_MS)
    return schedule(untilNextMs, () => {
      const atMs = now()
      const jumpMs = atMs - (plannedMs + untilNextMs)
      if (Math.abs(jumpMs) >= JUMP_MS) jumped(jumpMs)
      if (jumpMs >= JUMP_MS) missed = feeds
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
