import type { EmbeddedBroker } from '../adapters/embeddedBroker.js'
import type { StatusSource } from '../adapters/mqttStatus.js'
import type { SeriesCounts } from '../adapters/sqliteSeries.js'
import type { Store } from '../adapters/sqliteStore.js'
import type { PlantBatch } from './openPlant.js'
import { type Outbox, type SinkState, startOutbox } from './outbox.js'
import { startPlantSeries } from './plantSeries.js'
import { schedule } from './schedule.js'
import type { SeriesPump } from './seriesPump.js'
import type { Shared } from './serviceOptions.js'
import { openSinks } from './sinks.js'
import { tellSinks } from './tellSinks.js'

/** The ways out of a plant: its events to every sink, its points to the database for dashboards. */
export interface PlantOutput {
  /** Opens the sinks and hands over what waits. @throws where a sink cannot be opened */
  readonly begin: (broker: EmbeddedBroker | undefined, status: StatusSource) => Promise<void>
  /** A batch is on disk. */
  readonly written: (batch: Pick<PlantBatch, 'events' | 'series'>) => void
  /** True when every sink has every event, and dashboards every point. */
  readonly drained: () => boolean
  /** How each sink is doing; none before `begin`. */
  readonly sinks: () => readonly SinkState[]
  /** Undefined where no database for dashboards is connected. */
  readonly points: () => SeriesCounts | undefined
  /** Lets each finish for some seconds; what is left goes out after the next start. */
  readonly stop: () => Promise<void>
}

const SINK_DEADLINE_MS = 3_000

/** @param shared with the log of the plant */
export function plantOutput<S>(plant: string, store: Store, shared: Shared<S>): PlantOutput {
  const { connections, log, options } = shared
  let outbox: Outbox | undefined
  let series: SeriesPump | undefined
  return {
    begin: async (broker, status) => {
      const sinks = await openSinks({ ...shared, plant, store, broker, eventsPath: options.eventsPath, status })
      const news = tellSinks(log)
      const [now, chance] = [() => performance.now(), Math.random]
      outbox = startOutbox({ store, sinks, limits: connections.outbox, news, schedule, now, chance })
      if (connections.influx !== undefined) series = startPlantSeries(connections.influx, store.series, log)
    },
    written: batch => {
      if (batch.events.length > 0) outbox?.wake()
      if (batch.series.length > 0) series?.wake()
    },
    drained: () => (outbox?.drained() ?? false) && (series?.drained() ?? true),
    sinks: () => outbox?.state() ?? [],
    points: () => (connections.influx === undefined ? undefined : store.series.counts()),
    stop: async () => {
      await Promise.all([outbox?.stop(SINK_DEADLINE_MS), series?.stop(SINK_DEADLINE_MS)])
    },
  }
}
