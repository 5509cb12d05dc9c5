import type { MqttClient } from 'mqtt'
import { connectMqtt, type ConnectionNews, type MqttCredentials } from './mqttConnection.js'
import { topicOf } from './mqttTopics.js'
import type { OutboxRow } from './sqliteStore.js'

export interface MqttSinkOptions {
  readonly url: string
  readonly plant: string
  readonly clientId: string
  readonly credentials?: MqttCredentials
  readonly news: (news: ConnectionNews) => void
}

/**
 * Publishes events with QoS 1. `publish` resolves when the broker has acknowledged every row; while there is no
 * connection it waits, holding no more than the rows it was given.
 */
export function mqttSink(options: MqttSinkOptions): {
  readonly publish: (rows: readonly OutboxRow[]) => Promise<void>
  readonly close: () => Promise<void>
} {
  // Not before the first connection: what is handed to a client that is replaced by one of 3.1.1 would be lost.
  let connected: (client: MqttClient) => void
  const ready = new Promise<MqttClient>(resolve => {
    connected = resolve
  })
  const close = connectMqtt({
    url: options.url,
    clientId: options.clientId,
    ...(options.credentials === undefined ? {} : { credentials: options.credentials }),
    persistent: false,
    onClient: client => {
      client.once('connect', () => connected(client))
    },
    news: options.news,
  })
  return {
    publish: async rows => {
      const client = await ready
      await Promise.all(
        rows.map(row => {
          const { topic, retain } = topicOf(options.plant, row.type, row.subject)
          return client.publishAsync(topic, row.body, { qos: 1, retain })
        }),
      )
    },
    close,
  }
}
