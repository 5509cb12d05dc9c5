import type { MqttClient } from 'mqtt'
import type { MqttBroker } from './connectionsFile.js'
import { acknowledgeLater, type Delivery } from './mqttAcknowledge.js'
import { connectMqtt, type ConnectionNews } from './mqttConnection.js'
import { brokerOf } from './mqttOptions.js'
import { refusalOf, saySubscriptionRefused } from './mqttProblems.js'

export interface MqttFeedOptions {
  readonly broker: MqttBroker | string
  /** Fixed: the broker keeps what we have not acknowledged under this name. */
  readonly clientId: string
  readonly filter: string
  readonly receiveMaximum: number
  readonly deliver: (delivery: Delivery) => void
  readonly news: (news: ConnectionNews) => void
}

/**
 * Subscribes to a topic filter with QoS 1 in a persistent session: what is not acknowledged comes again, in order,
 * after a reconnect or a restart. The subscription is renewed on each connection, so that a changed filter or a
 * broker that lost its sessions needs no care; retained values come only with a new one.
 * @returns what ends it
 */
export function connectMqttFeed(options: MqttFeedOptions): () => Promise<void> {
  const { clientId, filter, receiveMaximum, deliver, news } = options
  const broker = brokerOf(options.broker)
  const refused = (code: number): void =>
    news({ state: 'refused', problem: saySubscriptionRefused(filter, code, broker) })
  return connectMqtt({
    broker,
    clientId,
    receiveMaximum,
    persistent: true,
    onClient: client => {
      acknowledgeLater(client, deliver)
      client.on('connect', () => subscribe(client, filter, refused))
    },
    news,
  })
}

function subscribe(client: MqttClient, filter: string, refused: (code: number) => void): void {
  const retained = client.options.protocolVersion === 5 ? { rh: 1 } : {}
  client.subscribe(filter, { qos: 1, ...retained }, error => {
    const code = refusalOf(error)
    if (code !== undefined) refused(code)
  })
}
