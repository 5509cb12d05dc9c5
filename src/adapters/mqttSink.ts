import type { MqttClient } from 'mqtt'
import type { MqttBroker } from './connectionsFile.js'
import { connectMqtt, type ConnectionNews } from './mqttConnection.js'
import { brokerOf } from './mqttOptions.js'
import { refusalOf, sayPublishRefused } from './mqttProblems.js'
import type { StatusSource } from './mqttStatus.js'
import { topicOf } from './mqttTopics.js'
import type { OutboxRow } from './sqliteStore.js'

export interface MqttSinkOptions {
  readonly broker: MqttBroker | string
  readonly plant: string
  readonly clientId: string
  readonly status?: StatusSource
  readonly news: (news: ConnectionNews) => void
}

/**
 * Publishes events with QoS 1. `publish` resolves when the broker has acknowledged every row; while there is no
 * connection it waits, holding no more than the rows it was given.
 *
 * This connection, and none of those that read, carries birth and last will of the service: it is the one with the
 * right to write there, and `online` is to mean that events get out. A feed that is down is named in the status.
 */
export function mqttSink(options: MqttSinkOptions): {
  readonly publish: (rows: readonly OutboxRow[]) => Promise<void>
  readonly close: () => Promise<void>
} {
  const { plant, clientId, status, news } = options
  const broker = brokerOf(options.broker)
  // By the client that connected last, and not before the first connection: one of MQTT 5 is replaced by one of 3.1.1
  // where the broker asks for that, and what is handed to a client that has ended goes nowhere.
  let current: MqttClient | undefined
  let connected: () => void
  const ready = new Promise<void>(resolve => {
    connected = resolve
  })
  let endStatus = (): void => {}
  const end = connectMqtt({
    broker,
    clientId,
    persistent: false,
    ...(status === undefined ? {} : { will: { topic: status.topic, body: status.lost } }),
    onClient: client => {
      client.on('connect', () => {
        current = client
        connected()
      })
      endStatus()
      if (status !== undefined) endStatus = publishStatus(client, status)
    },
    news,
  })
  const publish = async (client: MqttClient, row: OutboxRow): Promise<void> => {
    const { topic, retain } = topicOf(plant, row.type, row.subject)
    try {
      await client.publishAsync(topic, row.body, { qos: 1, retain })
    } catch (error) {
      const code = refusalOf(error)
      throw code !== undefined ? new Error(sayPublishRefused(topic, code, broker), { cause: error }) : error
    }
  }
  return {
    publish: async rows => {
      await ready
      const client = current!
      // MQTT 5.0 §4.9: no more under way than the broker said it takes.
      const together = client.serverProperties?.receiveMaximum ?? rows.length
      for (let at = 0; at < rows.length; at += together) {
        await Promise.all(rows.slice(at, at + together).map(row => publish(client, row)))
      }
    },
    close: () => {
      endStatus()
      return end()
    },
  }
}

/** Birth at each connection, then each change while it lasts. @returns what says the end */
function publishStatus(client: MqttClient, { topic, now, ended, follow }: StatusSource): () => void {
  const publish = (body: string): void => {
    // Away, the birth of the next connection says it. A refusal is told of the events.
    if (client.connected) client.publish(topic, body, { qos: 1, retain: true }, () => {})
  }
  client.on('connect', () => publish(now()))
  const leave = follow(publish)
  return () => {
    leave()
    publish(ended())
  }
}
