import { Counter, Gauge, Histogram, Registry, type RegistryContentType } from 'prom-client'
import type { SeriesCounts } from '../adapters/sqliteSeries.js'
import type { FaultCode } from '../model/faults.js'
import type { FeedState } from '../model/serviceStatus.js'
import type { Gaps } from './feedGaps.js'
import type { SinkState } from './outboxPump.js'

/** How one plant stands when somebody asks. */
export interface PlantView {
  /** Seconds that plant time is behind the clock; undefined before the first tick. */
  readonly lagS: number | undefined
  readonly analyzers: number
  readonly assessed: number
  readonly feeds: Readonly<Record<string, FeedState>>
  readonly sinks: readonly SinkState[]
  /** Of points for dashboards; undefined where there is no database for them. */
  readonly points?: SeriesCounts | undefined
}

/**
 * What the service counts about itself, under names of the rules of prometheus.io: prefix, base unit, `_total` for what
 * only grows. Labels are names out of the registers and fixed words, so their number is bounded.
 */
export interface Metrics {
  /** Messages of a feed that are on disk, whatever became of them. */
  readonly taken: (plant: string, feed: string, messages: number) => void
  readonly refused: (plant: string, feed: string, reason: FaultCode) => void
  readonly repeated: (plant: string, feed: string, messages: number) => void
  readonly gaps: (plant: string, feed: string, gaps: Gaps) => void
  /** An edge node or device of Sparkplug died. */
  readonly died: (plant: string, feed: string) => void
  readonly batchWritten: (plant: string, seconds: number) => void
  /** A message on a topic that no feed reads. */
  readonly unread: () => void
  /** Asks the plant at each scrape, until what it returns is called. */
  readonly watch: (plant: string, view: () => PlantView) => () => void
  readonly expose: (type: RegistryContentType) => Promise<string>
}

export const TEXT_TYPE = Registry.PROMETHEUS_CONTENT_TYPE
export const OPEN_METRICS_TYPE = Registry.OPENMETRICS_CONTENT_TYPE
const ON_FEED = ['plant', 'feed'] as const
const ON_SINK = ['plant', 'sink'] as const
/** From a tenth of a millisecond, on a fast disk, to ten seconds on one that fails. */
const WRITE_BUCKETS_S = [0.0001, 0.0003, 0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10]

export function createMetrics(): Metrics {
  const registry = new Registry<RegistryContentType>()
  const registers = [registry as Registry]
  const views = new Map<string, () => PlantView>()
  const counter = <L extends string>(name: string, help: string, labelNames: readonly L[]) =>
    new Counter({ name, help, labelNames, registers })
  /** @param fill called at each scrape, for each plant */
  const gauge = <L extends string>(
    name: string,
    help: string,
    labelNames: readonly L[],
    fill: (set: (labels: Record<L, string>, value: number) => void, plant: string, view: PlantView) => void,
  ) =>
    new Gauge({
      name,
      help,
      labelNames,
      registers,
      collect() {
        this.reset()
        for (const [plant, view] of views) fill((labels, value) => this.set(labels, value), plant, view())
      },
    })

  const taken = counter('turbidrift_messages_taken_total', 'Messages that are on disk, by feed.', ON_FEED)
  const refused = counter('turbidrift_messages_refused_total', 'Messages refused, by feed and reason.', [
    ...ON_FEED,
    'reason',
  ])
  const repeated = counter('turbidrift_messages_repeated_total', 'Readings that had come before.', ON_FEED)
  const missing = counter(
    'turbidrift_readings_missing_total',
    'Readings that did not come within the lateness allowed, by the interval in the register.',
    ON_FEED,
  )
  const sequenceGaps = counter(
    'turbidrift_sequence_gaps_total',
    'Places where the numbers of a sender jumped: something was lost before it came here.',
    ON_FEED,
  )
  const deaths = counter(
    'turbidrift_sparkplug_deaths_total',
    'Edge nodes and devices of Sparkplug that were said to be dead.',
    ON_FEED,
  )
  const writing = new Histogram({
    name: 'turbidrift_batch_write_seconds',
    help: 'Time to write one batch of messages with all that follows from it.',
    labelNames: ['plant'] as const,
    buckets: WRITE_BUCKETS_S,
    registers,
  })
  const unread = counter('turbidrift_messages_unread_total', 'Messages on topics that no feed reads.', [])
  gauge('turbidrift_events_waiting', 'Events a receiver does not have yet.', ON_SINK, (set, plant, { sinks }) => {
    for (const { sink, waiting } of sinks) set({ plant, sink }, waiting)
  })
  new Counter({
    name: 'turbidrift_events_set_aside_total',
    help: 'Events a receiver refused for good, in all the time of the store.',
    labelNames: ON_SINK,
    registers,
    collect() {
      this.reset()
      for (const [plant, view] of views) {
        for (const { sink, setAside } of view().sinks) this.inc({ plant, sink }, setAside)
      }
    },
  })
  gauge('turbidrift_points_waiting', 'Points that InfluxDB does not have yet.', ['plant'], (set, plant, { points }) => {
    if (points !== undefined) set({ plant }, points.waiting)
  })
  new Counter({
    name: 'turbidrift_points_lost_total',
    help: 'Points that never reach InfluxDB: refused by it, or dropped since too many waited, in all the time of the store.',
    labelNames: ['plant', 'reason'] as const,
    registers,
    collect() {
      this.reset()
      for (const [plant, view] of views) {
        const { points } = view()
        if (points === undefined) continue
        this.inc({ plant, reason: 'refused' }, points.refused)
        this.inc({ plant, reason: 'dropped' }, points.dropped)
      }
    },
  })
  gauge(
    'turbidrift_events_parked',
    '1 where a receiver has taken nothing for so long that it is tried rarely.',
    ON_SINK,
    (set, plant, { sinks }) => {
      for (const { sink, parked } of sinks) set({ plant, sink }, parked ? 1 : 0)
    },
  )
  gauge(
    'turbidrift_time_lag_seconds',
    'Clock of the machine less plant time, up to which everything is worked through.',
    ['plant'],
    (set, plant, { lagS }) => {
      if (lagS !== undefined) set({ plant }, lagS)
    },
  )
  gauge('turbidrift_analyzers', 'Analyzers in the register.', ['plant'], (set, plant, { analyzers }) =>
    set({ plant }, analyzers),
  )
  gauge(
    'turbidrift_analyzers_assessed',
    'Analyzers whose readings something is known about.',
    ['plant'],
    (set, plant, { assessed }) => set({ plant }, assessed),
  )
  gauge(
    'turbidrift_broker_connected',
    '1 while the broker of a feed is connected.',
    ON_FEED,
    (set, plant, { feeds }) => {
      for (const [feed, state] of Object.entries(feeds)) set({ plant, feed }, state === 'disconnected' ? 0 : 1)
    },
  )

  return {
    taken: (plant, feed, messages) => taken.inc({ plant, feed }, messages),
    refused: (plant, feed, reason) => refused.inc({ plant, feed, reason }),
    repeated: (plant, feed, messages) => repeated.inc({ plant, feed }, messages),
    gaps: (plant, feed, gaps) => {
      missing.inc({ plant, feed }, gaps.missingReadings)
      sequenceGaps.inc({ plant, feed }, gaps.sequenceGaps)
    },
    died: (plant, feed) => deaths.inc({ plant, feed }),
    batchWritten: (plant, seconds) => writing.observe({ plant }, seconds),
    unread: () => unread.inc(),
    watch: (plant, view) => {
      views.set(plant, view)
      return () => views.delete(plant)
    },
    expose: inTurn(registry),
  }
}

/**
 * For OpenMetrics prom-client 15.1.3 takes `_total` off the names of counters and does not put it back, and the type
 * belongs to the registry: so one scrape after the other, and the names are put back.
 */
function inTurn(registry: Registry<RegistryContentType>): Metrics['expose'] {
  const names = registry.getMetricsAsArray().map(({ name }) => name)
  const expose = async (type: RegistryContentType): Promise<string> => {
    registry.setContentType(type)
    try {
      return await registry.metrics()
    } finally {
      for (const name of names) Object.assign(registry.getSingleMetric(name)!, { name })
    }
  }
  let before: Promise<unknown> = Promise.resolve()
  return type => {
    const text = before.then(() => expose(type))
    before = text.catch(() => {})
    return text
  }
}
