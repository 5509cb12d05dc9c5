import type { Logger } from 'pino'
import type { Batcher } from './batcher.js'
import { startClockTicks } from './clockTicks.js'
import type { FeedHealth } from './feedHealth.js'
import { tellJump } from './log.js'
import { CLOCK_FEED } from './plantRunner.js'
import { schedule } from './schedule.js'

export interface PlantClockOptions {
  readonly batcher: Batcher
  readonly health: FeedHealth
  /** Names of all feeds of the plant. */
  readonly feeds: readonly string[]
  /** The plant has inputs from before this start: nobody listened to its feeds since. */
  readonly isReturn: boolean
  readonly log: Logger
  readonly now: () => number
}

/** Lets the time of a plant follow the machine's clock. @returns what ends it */
export function startPlantClock({ batcher, health, feeds, isReturn, log, now }: PlantClockOptions): () => void {
  return startClockTicks({
    now,
    schedule,
    feedsNotLive: health.notLive,
    feedsMissed: isReturn ? feeds : [],
    feeds,
    jumped: tellJump(log),
    tick: message => batcher.offer({ input: { feed: CLOCK_FEED, receivedAt: new Date(now()).toISOString(), message } }),
  })
}
