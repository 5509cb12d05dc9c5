import { resolve } from 'node:path'
import type { EmbeddedBroker } from '../adapters/embeddedBroker.js'
import type { RejectRow, Store } from '../adapters/sqliteStore.js'
import { sayFault } from '../model/faults.js'
import type { RegisterFile } from '../model/register.js'
import { startDropFolderFeed } from './dropFolderFeed.js'
import { createFeedHealth } from './feedHealth.js'
import type { Feeds } from './feeds.js'
import { sparingly } from './log.js'
import { openPlant } from './openPlant.js'
import type { SinkState } from './outbox.js'
import { startPlantClock } from './plantClock.js'
import { openPlantIntake, type PlantIntake } from './plantIntake.js'
import { countPlant } from './plantMetrics.js'
import { plantOutput } from './plantOutput.js'
import { connectRemoteFeed } from './remoteFeed.js'
import { schedule } from './schedule.js'
import type { Shared } from './serviceOptions.js'
import { keepServiceStatus } from './serviceStatus.js'
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
  readonly take: PlantIntake['embedded']
  /** Opens the sinks, connects the feeds, starts the clock. @throws where a sink cannot be opened */
  readonly begin: (broker: EmbeddedBroker | undefined) => Promise<void>
  /** True when every sink has every event, and dashboards every point. */
  readonly drained: () => boolean
  /** How each sink is doing; none before `begin`. */
  readonly sinks: () => readonly SinkState[]
  /** Takes no more, writes and acknowledges what came, saves the state, lets sinks finish, closes everything. */
  readonly stop: () => Promise<void>
}

/** Brings a plant to the end of its journal; it reads and publishes nothing before `begin`. */
export function openPlantService<S>(options: PlantServiceOptions, shared: Shared<S>): PlantService {
  const { file, store, feeds } = options
  const { plant } = file
  const { now, connections } = shared
  const log = shared.log.child({ plant })
  const { saveEveryMs, prefix = EVENT_TYPE_PREFIX, ticks = 'clock' } = shared.options
  const isReturn = store.lastSeq() > 0
  const health = createFeedHealth(feeds.remote.map(({ name }) => name))
  const refused = sparingly<RejectRow>(now, (messages, { feed, faults }) =>
    log.warn({ messages, feed, reason: faults.map(sayFault).join('; ') }, 'Messages refused'),
  )
  const output = plantOutput(plant, store, { ...shared, log })
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
      const last = batch.rejects.at(-1)
      if (last !== undefined) refused(last, batch.rejects.length)
      output.written(batch)
      status.written(batch)
      counts?.written(batch, seconds)
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
    eventsWaiting: () => Math.max(0, ...output.sinks().map(({ waiting }) => waiting)),
    now,
    schedule,
  })
  const counts =
    shared.metrics === undefined
      ? undefined
      : countPlant({
          metrics: shared.metrics,
          file,
          status: status.current,
          sinks: output.sinks,
          points: output.points,
        })
  const arrivedMs = (): number | undefined => (ticks === 'event' ? undefined : now())
  const intake = openPlantIntake({ feeds, batcher, health, counts, row: store.meta, arrivedMs, log, now })
  /** What ends the sources of messages. */
  const sources: (() => void)[] = []
  const connected: (() => Promise<void>)[] = []

  const startSources = (): void => {
    const { dropFolder } = options
    if (dropFolder !== undefined) {
      const stamp = () => (ticks === 'event' ? undefined : new Date(now()).toISOString())
      sources.push(startDropFolderFeed({ folder: dropFolder, file, batcher, stamp, log, schedule }))
    }
    const names = [...feeds.embedded, ...feeds.remote].map(({ name }) => name)
    if (ticks === 'clock') sources.push(startPlantClock({ batcher, health, feeds: names, isReturn, log, now }))
  }

  const saveState = (): void => {
    try {
      save()
      store.checkpoint()
    } catch (err) {
      log.warn({ err }, 'State could not be saved; the next start steps the journal again')
    }
  }

  return {
    plant,
    store,
    take: intake.embedded,
    begin: async broker => {
      await output.begin(broker, status.source)
      for (const feed of feeds.remote) {
        const own = { plant, log, now, health, isReturn, changed: status.changed, take: intake.remote }
        connected.push(connectRemoteFeed(feed, own))
      }
      startSources()
      const count = feeds.embedded.length + feeds.remote.length
      log.info({ store: resolve(options.storePath), feeds: count }, 'Plant started')
    },
    drained: output.drained,
    sinks: output.sinks,
    stop: async () => {
      for (const end of sources) end()
      status.stop()
      counts?.stop()
      try {
        await batcher.stop()
        await Promise.all(connected.map(close => close()))
        if (!isLost) saveState()
        await output.stop()
      } finally {
        store.close()
      }
    },
  }
}
