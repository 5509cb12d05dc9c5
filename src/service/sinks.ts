import { resolve } from 'node:path'
import type { Writable } from 'node:stream'
import type { Logger } from 'pino'
import type { EmbeddedBroker } from '../adapters/embeddedBroker.js'
import { type MqttCredentials, withoutCredentials } from '../adapters/mqttConnection.js'
import { mqttSink } from '../adapters/mqttSink.js'
import { topicOf } from '../adapters/mqttTopics.js'
import type { OutboxRow, Store } from '../adapters/sqliteStore.js'
import { tellConnection } from './log.js'
import { fileSink, streamSink } from './ndjsonSink.js'
import type { Sink } from './outbox.js'

export interface SinkOptions {
  readonly plant: string
  readonly store: Store
  readonly broker: EmbeddedBroker | undefined
  /** Broker of the plant to publish to. */
  readonly publishUrl: string | undefined
  readonly credentials: MqttCredentials | undefined
  /** File for NDJSON, `-` for standard output. */
  readonly eventsPath: string | undefined
  readonly stdout: Writable
  readonly log: Logger
}

/** The sinks the options ask for. @throws where the file for events cannot be opened */
export async function openSinks(options: SinkOptions): Promise<Sink[]> {
  const { plant, store, broker, publishUrl, credentials, eventsPath, stdout, log } = options
  const sinks: Sink[] = []
  if (broker !== undefined) {
    const publish = (row: OutboxRow) => {
      const { topic, retain } = topicOf(plant, row.type, row.subject)
      return broker.publish(topic, row.body, retain)
    }
    // The broker forgot what it retained; whoever subscribes is to see how things stand.
    for (const row of store.newestPerSubject('analyzer.status')) await publish(row)
    sinks.push({
      name: 'embedded',
      publish: async rows => {
        for (const row of rows) await publish(row)
      },
      close: async () => {},
    })
  }
  if (publishUrl !== undefined) {
    const news = tellConnection(log, { sink: 'mqtt', url: withoutCredentials(publishUrl) })
    const clientId = `turbidrift-${plant}-events`
    const login = credentials === undefined ? {} : { credentials }
    sinks.push({ name: 'mqtt', ...mqttSink({ url: publishUrl, plant, clientId, ...login, news }) })
  }
  if (eventsPath === '-') sinks.push(streamSink('stdout', stdout))
  else if (eventsPath !== undefined) sinks.push(fileSink(`ndjson:${resolve(eventsPath)}`, eventsPath))
  return sinks
}
