import { Buffer } from 'node:buffer'
import { resolve } from 'node:path'
import type { Writable } from 'node:stream'
import type { Logger } from 'pino'
import { type EmbeddedBroker, startEmbeddedBroker } from '../adapters/embeddedBroker.js'
import { type MqttCredentials, withoutCredentials } from '../adapters/mqttConnection.js'
import { connectMqttFeed } from '../adapters/mqttFeed.js'
import { topicsOut } from '../adapters/mqttTopics.js'
import { readRegisterFile } from '../adapters/registerFile.js'
import { openStore, type Store } from '../adapters/sqliteStore.js'
import type { FeedKind, RegisterMessage } from '../model/messages.js'
import type { RecordedInput } from '../model/recordedInput.js'
import type { RegisterFile } from '../model/register.js'
import { parseInstant } from '../model/time.js'
import { BATCH_LIMITS } from './batcher.js'
import { startClockTicks } from './clockTicks.js'
import { startDropFolderFeed } from './dropFolderFeed.js'
import { createFeedHealth } from './feedHealth.js'
import { resolveFeeds } from './feeds.js'
import { type FeedSource, inputFrom } from './intake.js'
import { sparingly, tellConnection } from './log.js'
import { type OpenPlant, openPlant } from './openPlant.js'
import { type Sink, startOutbox } from './outbox.js'
import { CLOCK_FEED, type Core } from './plantRunner.js'
import { schedule } from './schedule.js'
import { openSinks } from './sinks.js'
import { EVENT_TYPE_PREFIX } from './version.js'

export interface ServiceOptions {
  readonly registerPath: string
  /** Default `.turbidrift/<plant>.db` in the working folder. */
  readonly storePath?: string
  /** `clock` (default): plant time is the machine's; `event`: it follows the times in the messages. */
  readonly ticks?: 'clock' | 'event'
  /** Port of the embedded broker, 0 for a free one; default 1883. It runs only where a feed needs it. */
  readonly brokerPort?: number
  /** Kinds the embedded broker takes when the register declares no feeds; default readings only. */
  readonly kinds?: readonly FeedKind[]
  /** File that events are added to as NDJSON; `-` for standard output. */
  readonly eventsPath?: string
  /** Broker that events are published to, besides the embedded one. */
  readonly publishUrl?: string
  /** For every broker of the plant. */
  readonly credentials?: MqttCredentials
  /** Folder that people put CSV and NDJSON files into. */
  readonly dropFolder?: string
  /** Types of events begin with it; default `turbidrift`. */
  readonly prefix?: string
  readonly saveEveryMs?: number
}

export interface ServiceParts<S> {
  readonly core: Core<S>
  readonly registerMessage: (file: RegisterFile, before: RegisterFile | undefined) => RegisterMessage
  readonly softwareVersion: string
  readonly log: Logger
  readonly stdout: Writable
  readonly now: () => number
}

export interface Service {
  readonly brokerPort: number | undefined
  readonly store: Store
  /** True when every sink has every event. */
  readonly drained: () => boolean
  /** Writes what came, saves the state, closes everything. May be called again. */
  readonly stop: () => Promise<void>
  /** Resolves when the service has ended: 0 after `stop`, 1 where the store was lost. */
  readonly ended: Promise<number>
}

export type StartedService =
  { readonly ok: true; readonly service: Service } | { readonly ok: false; readonly problems: readonly string[] }

const DEFAULT_PORT = 1883
const SINK_DEADLINE_MS = 3_000

/** Starts the service of one plant: store, state, feeds, sinks. */
export async function startService<S>(options: ServiceOptions, parts: ServiceParts<S>): Promise<StartedService> {
  const { log, now } = parts
  const register = await readRegisterFile(options.registerPath)
  if (!register.ok) return register
  for (const warning of register.warnings) log.warn({ warning }, 'The register is unusual')
  const { file } = register
  const resolved = resolveFeeds(file, options.kinds ?? ['reading'])
  if (!resolved.ok) return { ok: false, problems: [resolved.problem] }
  const { embedded, remote } = resolved.feeds
  const storePath = options.storePath ?? resolve('.turbidrift', `${file.plant}.db`)
  const opened = openStore(storePath, file.plant)
  if (!opened.ok) return { ok: false, problems: [opened.problem] }
  const { store } = opened

  const ticks = options.ticks ?? 'clock'
  const isReturn = store.lastSeq() > 0
  const health = createFeedHealth(remote.map(({ feed }) => feed.name))
  const closers: (() => Promise<void>)[] = []
  // Both are set when there is something to wake or to stop.
  let wakeOutbox = (): void => {}
  let stopLost = (): void => {}
  let lost = false
  let stopping: Promise<void> | undefined
  let end: (code: number) => void = () => {}
  const ended = new Promise<number>(resolveEnd => {
    end = resolveEnd
  })

  const refused = sparingly(now, messages => log.warn({ messages }, 'Messages refused'))
  const unread = sparingly(now, messages => log.warn({ messages }, 'Messages on topics that no feed reads'))
  const plant = openPlant({
    ...parts,
    store,
    file,
    ticks: ticks === 'event' ? 'event' : 'recorded',
    prefix: options.prefix ?? EVENT_TYPE_PREFIX,
    schedule,
    ...(options.saveEveryMs === undefined ? {} : { saveEveryMs: options.saveEveryMs }),
    written: batch => {
      if (batch.rejects.length > 0) refused()
      if (batch.events.length > 0) wakeOutbox()
    },
    lost: err => {
      log.fatal({ err }, 'The service cannot go on')
      lost = true
      stopLost()
    },
  })
  const stamp = (): string | undefined => (ticks === 'event' ? undefined : new Date(now()).toISOString())

  /** False where no feed reads the topic. */
  const take = (
    sources: readonly FeedSource[],
    topic: string,
    payload: Uint8Array,
    committed: () => void,
    taken?: () => void,
  ): boolean => {
    for (const source of sources) {
      const input = inputFrom(source, topic, payload, stamp())
      if (input === undefined) continue
      const messageMs = timeOf(input)
      if (messageMs !== undefined) health.heard(source.feed.name, messageMs, now())
      plant.batcher.offer({ input, committed }, taken)
      return true
    }
    unread()
    return false
  }

  let broker: EmbeddedBroker | undefined
  if (embedded.length > 0 || options.brokerPort !== undefined) {
    const started = await startEmbeddedBroker({
      port: options.brokerPort ?? DEFAULT_PORT,
      reserved: topicsOut(file.plant),
      onPublish: (topic, payload, release) => take(embedded, topic, payload, release),
      clientsChanged: clients => log.debug({ clients }, 'Clients of the embedded broker'),
    })
    if (!started.ok) {
      await closeAll(closers, store)
      return { ok: false, problems: [started.problem] }
    }
    broker = started.broker
    closers.push(broker.close)
    log.info({ url: `mqtt://127.0.0.1:${broker.port}`, port: broker.port }, 'Embedded broker listens')
  }

  let sinks: readonly Sink[]
  try {
    const { publishUrl, credentials, eventsPath } = options
    sinks = await openSinks({ ...parts, plant: file.plant, store, broker, publishUrl, credentials, eventsPath })
  } catch (error) {
    await closeAll(closers, store)
    return {
      ok: false,
      problems: [`events cannot be written: ${error instanceof Error ? error.message : String(error)}`],
    }
  }

  for (const { url, ...source } of remote) {
    const { feed, template } = source
    const tell = tellConnection(log, { feed: feed.name, url: withoutCredentials(url) })
    closers.push(
      connectMqttFeed({
        url,
        clientId: `turbidrift-${file.plant}-${feed.name}`,
        filter: template.filter,
        receiveMaximum: 2 * BATCH_LIMITS.maxItems,
        ...(options.credentials === undefined ? {} : { credentials: options.credentials }),
        deliver: ({ packet, acknowledge, next }) => {
          const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload
          if (take([source], packet.topic, payload, acknowledge, next)) return
          acknowledge()
          next()
        },
        news: news => {
          tell(news)
          if (news.state === 'connected') health.connected(feed.name, now())
          else if (news.state === 'disconnected') health.disconnected(feed.name)
        },
      }),
    )
  }

  const outbox = startOutbox({
    store,
    sinks,
    schedule,
    failed: (sink, err, retryMs) => log.warn({ err, sink, retryMs }, 'Events could not be handed over'),
  })

  wakeOutbox = outbox.wake
  const endDrop =
    options.dropFolder === undefined
      ? () => {}
      : startDropFolderFeed({ folder: options.dropFolder, file, batcher: plant.batcher, stamp, log, schedule })
  const endTicks =
    ticks === 'event'
      ? () => {}
      : startClockTicks({
          now,
          schedule,
          feedsNotLive: health.notLive,
          feedsMissed: isReturn ? [...embedded, ...remote].map(({ feed }) => feed.name) : [],
          tick: message =>
            plant.batcher.offer({ input: { feed: CLOCK_FEED, receivedAt: new Date(now()).toISOString(), message } }),
        })
  log.info({ plant: file.plant, store: storePath, ticks, feeds: embedded.length + remote.length }, 'Service started')

  const stop = (code: number): Promise<void> =>
    (stopping ??= (async () => {
      endTicks()
      endDrop()
      await plant.batcher.stop()
      if (code === 0) saveState(plant, store, log)
      await outbox.stop(SINK_DEADLINE_MS)
      await closeAll(closers, store)
      log.info({ code }, 'Service ended')
      end(code)
    })())

  stopLost = () => void stop(1)
  // A batch may have been worked while the sinks were being opened.
  if (lost as boolean) stopLost()

  return {
    ok: true,
    service: {
      brokerPort: broker?.port,
      store,
      drained: () => outbox.drained(),
      stop: () => stop(0),
      ended,
    },
  }
}

async function closeAll(closers: readonly (() => Promise<void>)[], store: Store): Promise<void> {
  for (const close of closers) await close()
  store.close()
}

function saveState(plant: OpenPlant, store: Store, log: Logger): void {
  try {
    plant.save()
    store.checkpoint()
  } catch (err) {
    log.warn({ err }, 'State could not be saved; the next start steps the journal again')
  }
}

/** The time a message carries, for telling live from backlog; anything else about it is the core's to judge. */
function timeOf(input: RecordedInput): number | undefined {
  const { message } = input
  const time = typeof message === 'object' && message !== null ? (message as { time?: unknown }).time : undefined
  return typeof time === 'string' ? parseInstant(time) : undefined
}
