import type { SparkplugNews } from '../adapters/sparkplug/decode.js'
import type { SeriesCounts } from '../adapters/sqliteSeries.js'
import { resolvePlant } from '../model/plant.js'
import type { RegisterFile } from '../model/register.js'
import { createFeedGaps } from './feedGaps.js'
import type { Metrics } from './metrics.js'
import type { PlantBatch } from './openPlant.js'
import type { SinkState } from './outboxPump.js'
import { CLOCK_FEED } from './plantRunner.js'
import type { OnlineStatus } from './serviceStatus.js'

export interface PlantMetricsOptions {
  readonly metrics: Metrics
  readonly file: RegisterFile
  readonly status: () => OnlineStatus
  readonly sinks: () => readonly SinkState[]
  readonly points: () => SeriesCounts | undefined
}

/** What one plant counts of itself. */
export interface PlantMetrics {
  /** @param receivedMs undefined where plant time follows the messages */
  readonly heard: (feed: string, message: unknown, receivedMs: number | undefined) => void
  readonly told: (feed: string, news: SparkplugNews) => void
  readonly written: (batch: Pick<PlantBatch, 'counts' | 'rejects'>, seconds: number) => void
  readonly unread: () => void
  readonly stop: () => void
}

export function countPlant({ metrics, file, status, sinks, points }: PlantMetricsOptions): PlantMetrics {
  const { plant } = file
  const feedGaps = createFeedGaps(resolvePlant(file))
  const unwatch = metrics.watch(plant, () => {
    const { lagS, analyzers, assessed, feeds } = status()
    return { lagS, analyzers, assessed, feeds, sinks: sinks(), points: points() }
  })
  // From zero on, so that the first increase is one.
  for (const { name } of file.feeds ?? []) {
    metrics.taken(plant, name, 0)
    metrics.repeated(plant, name, 0)
    metrics.gaps(plant, name, { missingReadings: 0, sequenceGaps: 0 })
  }
  return {
    heard: (feed, message, receivedMs) => {
      const gaps = feedGaps.heard(message, receivedMs)
      if (gaps.missingReadings > 0 || gaps.sequenceGaps > 0) metrics.gaps(plant, feed, gaps)
    },
    told: (feed, { kind }) => {
      if (kind === 'death') metrics.died(plant, feed)
      else if (kind === 'gap') metrics.gaps(plant, feed, { sequenceGaps: 1, missingReadings: 0 })
    },
    written: ({ counts, rejects }, seconds) => {
      for (const [feed, { taken, repeated }] of counts) {
        if (feed === CLOCK_FEED) continue
        metrics.taken(plant, feed, taken)
        if (repeated > 0) metrics.repeated(plant, feed, repeated)
      }
      for (const { feed, faults } of rejects) if (faults[0] !== undefined) metrics.refused(plant, feed, faults[0].code)
      metrics.batchWritten(plant, seconds)
    },
    unread: metrics.unread,
    stop: unwatch,
  }
}
