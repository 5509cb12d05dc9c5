import type { MqttClient } from 'mqtt'
import { acknowledgeLater, type Delivery } from './mqttAcknowledge.js'
import { connectMqtt, type ConnectionNews, type MqttCredentials } from './mqttConnection.js'

export interface MqttFeedOptions {
  readonly url: string
  /** Fixed: the broker keeps what we have not acknowledged under this name. */
  readonly clientId: string
  readonly filter: string
  readonly receiveMaximum: number
  readonly credentials?: MqttCredentials
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
  return connectMqtt({
    url: options.url,
    clientId: options.clientId,
    ...(options.credentials === undefined ? {} : { credentials: options.credentials }),
    receiveMaximum: options.receiveMaximum,
    persistent: true,
    onClient: client => {
      acknowledgeLater(client, options.deliver)
      client.on('connect', () => subscribe(client, options))
    },
    news: options.news,
  })
}

function subscribe(client: MqttClient, options: MqttFeedOptions): void {
  const retained = client.options.protocolVersion === 5 ? { rh: 1 } : {}
  client.subscribe(options.filter, { qos: 1, ...retained }, (error, granted) => {
    // 128 and above are refusals: MQTT 3.1.1 §3.9.3, MQTT 5.0 §3.9.3.
    const refused = granted?.some(grant => grant.qos >= 128) ?? false
    if (error !== null || refused) {
      const problem = error?.message ?? 'the broker does not grant it'
      options.news({ state: 'refused', problem: `subscription to ${options.filter}: ${problem}` })
    }
  })
}
