import type { Logger } from 'pino'
import type { Connections, MqttBroker } from '../connectionsFile.js'
import { checkInflux } from './checkInflux.js'
import { checkKafka } from './checkKafka.js'
import { checkMqtt } from './checkMqtt.js'
import { checkWebhook } from './checkWebhook.js'
import type { ConnectFinding } from './finding.js'

export interface ConnectionsCheckOptions {
  readonly connections: Connections
  readonly plant: string
  /** Feeds of the plant that are read from brokers. */
  readonly feeds: readonly { readonly name: string; readonly filter: string; readonly broker: MqttBroker }[]
  readonly receiveMaximum: number
  /** For what the Kafka client says of itself. */
  readonly log: Logger
}

/** Tries every connection at once; what was found of each comes in the order of the file. */
export async function checkConnections(options: ConnectionsCheckOptions): Promise<readonly ConnectFinding[]> {
  const { connections, plant, feeds, receiveMaximum, log } = options
  const brokers = new Map<string, MqttBroker>()
  for (const [name, broker] of connections.mqtt) brokers.set(`mqtt.${name}`, broker)
  const nameOf = (broker: MqttBroker) => (connections.mqtt.has(broker.name) ? `mqtt.${broker.name}` : broker.url)
  for (const { broker } of feeds) brokers.set(nameOf(broker), broker)
  const found = await Promise.all([
    ...[...brokers].map(([connection, broker]) => {
      const read = feeds.filter(feed => nameOf(feed.broker) === connection)
      return checkMqtt({ connection, broker, plant, feeds: read, receiveMaximum })
    }),
    ...(connections.kafka === undefined ? [] : [checkKafka(connections.kafka, log)]),
    ...(connections.influx === undefined ? [] : [checkInflux(connections.influx)]),
    ...connections.webhooks.map(checkWebhook),
  ])
  return found.flat()
}
