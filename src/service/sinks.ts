import { resolve } from 'node:path'
import type { Writable } from 'node:stream'
import type { Logger } from 'pino'
import type { Connections } from '../adapters/connectionsFile.js'
import type { EmbeddedBroker } from '../adapters/embeddedBroker.js'
import { mqttSink } from '../adapters/mqttSink.js'
import { topicOf } from '../adapters/mqttTopics.js'
import type { StatusSource } from '../adapters/mqttStatus.js'
import type { OutboxRow, Store } from '../adapters/sqliteStore.js'
import { webhookSink } from '../adapters/webhook/webhookSink.js'
import { tellConnection } from './log.js'
import { fileSink, streamSink } from './ndjsonSink.js'
import type { Sink } from './outbox.js'

export interface SinkOptions {
  readonly plant: string
  readonly store: Store
  readonly broker: EmbeddedBroker | undefined
  readonly connections: Connections
  /** File for NDJSON, `-` for standard output. */
  readonly eventsPath: string | undefined
  readonly stdout: Writable
  readonly log: Logger
  /** How the service itself stands, for the brokers that events are published to. */
  readonly status: StatusSource
  readonly now: () => number
}

/**
 * Every kind of sink a plant may have, in the order they are opened: none, one or several of each. The name of a sink
 * names its cursor in the store: it stays the same from start to start.
 */
const KINDS: readonly ((options: SinkOptions) => readonly Sink[] | Promise<readonly Sink[]>)[] = [
  embedded,
  mqttBrokers,
  webhooks,
  ndjson,
]

/** The sinks of a plant. @throws where one cannot be opened, with those before it closed again */
export async function openSinks(options: SinkOptions): Promise<Sink[]> {
  const sinks: Sink[] = []
  try {
    for (const open of KINDS) sinks.push(...(await open(options)))
  } catch (error) {
    for (const sink of sinks) await sink.close()
    throw error
  }
  return sinks
}

async function embedded({ plant, store, broker, status }: SinkOptions): Promise<Sink[]> {
  if (broker === undefined) return []
  const publish = (row: OutboxRow) => {
    const { topic, retain } = topicOf(plant, row.type, row.subject)
    return broker.publish(topic, row.body, retain)
  }
  // The broker forgot what it retained; whoever subscribes is to see how things stand.
  for (const row of store.newestPerSubject('analyzer.status')) await publish(row)
  const publishStatus = (body: string) => broker.publish(status.topic, body, true)
  await publishStatus(status.now())
  const leave = status.follow(body => void publishStatus(body))
  return [
    {
      name: 'embedded',
      publish: async rows => {
        for (const row of rows) await publish(row)
      },
      close: async () => {
        leave()
        await publishStatus(status.ended())
      },
    },
  ]
}

function mqttBrokers({ plant, connections, status, log }: SinkOptions): Sink[] {
  return [...connections.mqtt.values()]
    .filter(broker => broker.publishEvents)
    .map(broker => {
      const name = `mqtt:${broker.name}`
      const news = tellConnection(log, { sink: name, url: broker.url })
      return { name, ...mqttSink({ broker, plant, clientId: `turbidrift:${plant}:events`, status, news }) }
    })
}

function webhooks({ connections, now }: SinkOptions): Sink[] {
  return connections.webhooks.map(webhook => ({ name: `webhook:${webhook.name}`, ...webhookSink({ webhook, now }) }))
}

function ndjson({ eventsPath, stdout }: SinkOptions): Sink[] {
  if (eventsPath === undefined) return []
  if (eventsPath === '-') return [streamSink('stdout', stdout)]
  return [fileSink(`ndjson:${resolve(eventsPath)}`, eventsPath)]
}
