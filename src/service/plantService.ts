import { resolve } from 'node:path'
import type { EmbeddedBroker } from '../adapters/embeddedBroker.js'
import type { Store } from '../adapters/sqliteStore.js'
import type { RecordedInput } from '../model/recordedInput.js'
import type { RegisterFile } from '../model/register.js'
import { parseInstant } from '../model/time.js'
import { startClockTicks } from './clockTicks.js'
import { startDropFolderFeed } from './dropFolderFeed.js'
import { createFeedHealth } from './feedHealth.js'
import type { Feeds } from './feeds.js'
import type { FeedSource } from './intake.js'
import { sparingly, tellJump } from './log.js'
import { openPlant } from './openPlant.js'
import { type Outbox, type SinkState, startOutbox } from './outbox.js'
import { countPlant } from './plantMetrics.js'
import { CLOCK_FEED } from './plantRunner.js'
import { startPlantSeries } from './plantSeries.js'
import { connectRemoteFeed, type RemoteFeedOptions } from './remoteFeed.js'
import { schedule } from './schedule.js'
import type { SeriesPump } from './seriesPump.js'
import type { Shared } from './serviceOptions.js'
import { keepServiceStatus } from './serviceStatus.js'
import { openSinks } from './sinks.js'
import { tellSinks } from './tellSinks.js'
import { tellSource } from './tellSource.js'
import { EVENT_TYPE_PREFIX } from './version.js'

export interface PlantServiceOptions {
  readonly file: RegisterFile
  readonly feeds: Feeds
  readonly store: Store
  readonly storePath: string
  readonly dropFolder: string | undefined
  /** The store was lost: nothing more of this plant is written or acknowledged. */
  readonly lost: () => void
}

/** One plant of the service: its store and state, what it reads, its events on their way out. */
export interface PlantService {
  readonly plant: string
  readonly store: Store
  /**
   * Takes what came on the embedded broker.
   * @param committed called when all of it is on disk
   * @returns false where no feed of this plant reads the topic
   */
  readonly take: (topic: string, payload: Uint8Array, committed: () => void) => boolean
  /** Opens the sinks, connects the feeds, starts the clock. @throws where a sink cannot be opened */
  readonly begin: (broker: EmbeddedBroker | undefined) => Promise<void>
  /** True when every sink has every event, and dashboards every point. */
  readonly drained: () => boolean
  /** How each sink is doing; none before `begin`. */
  readonly sinks: () => readonly SinkState[]
  /** Takes no more, writes and acknowledges what came, saves the state, lets sinks finish, closes everything. */
  readonly stop: () => Promise<void>
}

const SINK_DEADLINE_MS = 3_000

/** Brings a plant to the end of its journal; it reads and publishes nothing before `begin`. */
export function openPlantService<S>(options: PlantServiceOptions, shared: Shared<S>): PlantService {
  const { file, store } = options
  const { embedded, remote } = options.feeds
  const { now, connections } = shared
  const log = shared.log.child({ plant: file.plant })
  const { eventsPath, saveEveryMs, prefix = EVENT_TYPE_PREFIX, ticks = 'clock' } = shared.options
  const isReturn = store.lastSeq() > 0
  const health = createFeedHealth(remote.map(({ name }) => name))
  const refused = sparingly(now, messages => log.warn({ messages }, 'Messages refused'))
  let outbox: Outbox | undefined
  let series: SeriesPump | undefined
  let isLost = false
  const { batcher, save } = openPlant({
    ...shared,
    log,
    store,
    file,
    ticks: ticks === 'event' ? 'event' : 'recorded',
    prefix,
    withSeries: connections.influx !== undefined,
    schedule,
    ...(saveEveryMs === undefined ? {} : { saveEveryMs }),
    written: (batch, seconds) => {
      if (batch.rejects.length > 0) refused()
      if (batch.events.length > 0) outbox?.wake()
      status.written(batch)
      counts?.written(batch, seconds)
      if (batch.series.length > 0) series?.wake()
    },
    lost: err => {
      log.fatal({ err }, 'The service cannot go on')
      isLost = true
      options.lost()
    },
  })
  const status = keepServiceStatus({
    file,
    softwareVersion: shared.softwareVersion,
    statuses: store.newestPerSubject('analyzer.status'),
    feeds: health.states,
    eventsWaiting: () => Math.max(0, ...(outbox?.state() ?? []).map(({ waiting }) => waiting)),
    now,
    schedule,
  })
  const counts =
    shared.metrics === undefined
      ? undefined
      : countPlant({ metrics: shared.metrics, file, status: status.current, sinks: () => outbox?.state() ?? [] })
  for (const { name, begin } of [...embedded, ...remote]) {
    const tell = tellSource(log, name, now)
    begin?.(store.meta, news => {
      tell(news)
      counts?.told(name, news)
    })
  }
  const stamp = (): string | undefined => (ticks === 'event' ? undefined : new Date(now()).toISOString())
  /** What stops the sources of messages, in the order they were started. */
  const sources: (() => void)[] = []
  const connected: (() => Promise<void>)[] = []

  const take = (
    { name, read }: FeedSource,
    topic: string,
    payload: Uint8Array,
    committed: () => void,
    taken?: () => void,
  ): boolean => {
    const came = read(topic, payload, stamp())
    if (came === undefined) return false
    const { inputs, rows } = came
    for (const input of inputs) {
      const messageMs = timeOf(input)
      if (messageMs !== undefined) health.heard(name, messageMs, now())
      counts?.heard(name, input.message, ticks === 'event' ? undefined : now())
    }
    // They are written in order, so with the last one all are on disk.
    for (const input of inputs.slice(0, -1)) batcher.offer({ input })
    const input = inputs.at(-1)
    batcher.offer({ ...(input && { input }), ...(rows && { rows }), committed }, taken)
    return true
  }

  const takeRemote: RemoteFeedOptions['take'] = (...came) => {
    const isRead = take(...came)
    if (!isRead) counts?.unread()
    return isRead
  }

  return {
    plant: file.plant,
    store,
    take: (topic, payload, committed) => embedded.some(source => take(source, topic, payload, committed)),
    begin: async broker => {
      const sinks = await openSinks({
        ...shared,
        plant: file.plant,
        store,
        broker,
        connections,
        eventsPath,
        status: status.source,
        log,
      })
      const news = tellSinks(log)
      outbox = startOutbox({ store, sinks, limits: connections.outbox, news, schedule, now, chance: Math.random })
      if (connections.influx !== undefined) series = startPlantSeries(connections.influx, store.series, log)
      for (const feed of remote) {
        const own = { plant: file.plant, log, now, health, isReturn, changed: status.changed, take: takeRemote }
        connected.push(connectRemoteFeed(feed, own))
      }
      if (options.dropFolder !== undefined) {
        sources.push(startDropFolderFeed({ folder: options.dropFolder, file, batcher, stamp, log, schedule }))
      }
      if (ticks === 'clock') {
        const feeds = [...embedded, ...remote].map(({ name }) => name)
        const feedsMissed = isReturn ? feeds : []
        const tick = (message: unknown) =>
          batcher.offer({ input: { feed: CLOCK_FEED, receivedAt: new Date(now()).toISOString(), message } })
        const jumped = tellJump(log)
        sources.push(startClockTicks({ now, schedule, feedsNotLive: health.notLive, feedsMissed, feeds, jumped, tick }))
      }
      log.info({ store: resolve(options.storePath), feeds: embedded.length + remote.length }, 'Plant started')
    },
    drained: () => (outbox?.drained() ?? false) && (series?.drained() ?? true),
    sinks: () => outbox?.state() ?? [],
    stop: async () => {
      for (const end of sources) end()
      status.stop()
      counts?.stop()
      await batcher.stop()
      await Promise.all(connected.map(close => close()))
      if (!isLost) saveState()
      await Promise.all([outbox?.stop(SINK_DEADLINE_MS), series?.stop(SINK_DEADLINE_MS)])
      store.close()
    },
  }

  function saveState(): void {
    try {
      save()
      store.checkpoint()
    } catch (err) {
      log.warn({ err }, 'State could not be saved; the next start steps the journal again')
    }
  }
}

/** The time a message carries, for telling live from backlog; anything else about it is the core's to judge. */
function timeOf({ message }: RecordedInput): number | undefined {
  const time = typeof message === 'object' && message !== null ? (message as { time?: unknown }).time : undefined
  return typeof time === 'string' ? parseInstant(time) : undefined
}
