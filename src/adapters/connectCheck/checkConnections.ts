import type { Logger } from 'pino'
import type { Connections, MqttBroker } from '../connectionsFile.js'
import { checkInflux } from './checkInflux.js'
import { checkKafka } from './checkKafka.js'
import { checkMqtt } from './checkMqtt.js'
import { checkWebhook } from './checkWebhook.js'
import { type ConnectFinding, findingsOf } from './finding.js'
import { TRIAL_MS } from './mqttLogin.js'

export interface ConnectionsCheckOptions {
  readonly connections: Connections
  readonly plant: string
  /** Feeds of the plant that are read from brokers. */
  readonly feeds: readonly { readonly name: string; readonly filter: string; readonly broker: MqttBroker }[]
  readonly receiveMaximum: number
  /** For what the Kafka client says of itself. */
  readonly log: Logger
  /** How long one connection may take; default a minute. */
  readonly deadlineMs?: number
}

/** Tries every connection at once; what was found of each comes in the order of the file. */
export async function checkConnections(options: ConnectionsCheckOptions): Promise<readonly ConnectFinding[]> {
  const { connections, plant, feeds, receiveMaximum, log, deadlineMs = TRIAL_MS } = options
  const brokers = new Map<string, MqttBroker>()
  for (const [name, broker] of connections.mqtt) brokers.set(`mqtt.${name}`, broker)
  const nameOf = (broker: MqttBroker) => (connections.mqtt.has(broker.name) ? `mqtt.${broker.name}` : broker.url)
  for (const { broker } of feeds) brokers.set(nameOf(broker), broker)
  const found = await Promise.all([
    ...[...brokers].map(([connection, broker]) => {
      const read = feeds.filter(feed => nameOf(feed.broker) === connection)
      return within(deadlineMs, connection, checkMqtt({ connection, broker, plant, feeds: read, receiveMaximum }))
    }),
    ...(connections.kafka === undefined ? [] : [within(deadlineMs, 'kafka', checkKafka(connections.kafka, log))]),
    ...(connections.influx === undefined ? [] : [within(deadlineMs, 'influx', checkInflux(connections.influx))]),
    ...connections.webhooks.map(webhook => within(deadlineMs, `webhooks.${webhook.name}`, checkWebhook(webhook))),
  ])
  return found.flat()
}

/** Who takes a connection and then says nothing must not hold up what is found of the others. */
async function within(
  deadlineMs: number,
  connection: string,
  check: Promise<readonly ConnectFinding[]>,
): Promise<readonly ConnectFinding[]> {
  const { found, wrong } = findingsOf(connection)
  let timer: NodeJS.Timeout | undefined
  const late = new Promise<readonly ConnectFinding[]>(resolve => {
    timer = setTimeout(() => {
      wrong(
        `was not through after ${String(deadlineMs / 1_000)} s: the other side takes the connection and leaves a question without an answer; look at its log, and at what stands between`,
      )
      resolve(found)
    }, deadlineMs)
  })
  return Promise.race([check, late]).finally(() => clearTimeout(timer))
}
