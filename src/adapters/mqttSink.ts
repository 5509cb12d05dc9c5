import type { MqttClient } from 'mqtt'
import type { MqttBroker } from './connectionsFile.js'
import { connectMqtt, type ConnectionNews } from './mqttConnection.js'
import { brokerOf } from './mqttOptions.js'
import { sayPublishRefused } from './mqttProblems.js'
import { topicOf } from './mqttTopics.js'
import type { OutboxRow } from './sqliteStore.js'

export interface MqttSinkOptions {
  readonly broker: MqttBroker | string
  readonly plant: string
  readonly clientId: string
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
  const { plant, clientId, news } = options
  const broker = brokerOf(options.broker)
  // Not before the first connection: what is handed to a client that is replaced by one of 3.1.1 would be lost.
  let connected: (client: MqttClient) => void
  const ready = new Promise<MqttClient>(resolve => {
    connected = resolve
  })
  const close = connectMqtt({
    broker,
    clientId,
    persistent: false,
    onClient: client => {
      client.once('connect', () => connected(client))
    },
    news,
  })
  return {
    publish: async rows => {
      const client = await ready
      await Promise.all(
        rows.map(async row => {
          const { topic, retain } = topicOf(plant, row.type, row.subject)
          try {
            await client.publishAsync(topic, row.body, { qos: 1, retain })
          } catch (error) {
            const { code } = error as { code?: unknown }
            throw typeof code === 'number' ? new Error(sayPublishRefused(topic, code, broker), { cause: error }) : error
          }
        }),
      )
    },
    close,
  }
}
