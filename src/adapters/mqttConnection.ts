import { Buffer } from 'node:buffer'
import mqtt, { type IClientOptions, type MqttClient } from 'mqtt'
import type { MqttBroker } from './connectionsFile.js'
import { brokerOptions, faultOfSettings } from './mqttOptions.js'
import { sayClosedUnanswered, sayConnectError, sayEndsAtOnce, sayReason, type Who } from './mqttProblems.js'
import { reconnectWithJitter } from './mqttReconnect.js'

export type ConnectionNews =
  | { readonly state: 'connected'; readonly sessionPresent: boolean }
  | { readonly state: 'disconnected' }
  /** One sentence: what is wrong, and the next step; without secrets. It is tried again all the same. */
  | { readonly state: 'refused'; readonly problem: string }

/** A retained message the broker publishes for us when we are gone without a word. */
export interface LastWill {
  readonly topic: string
  readonly body: string
}

export interface MqttConnection {
  readonly broker: MqttBroker
  readonly clientId: string
  /** How many messages the broker may have under way to us; 3.1.1 has no word for it. */
  readonly receiveMaximum?: number
  /** Keep the session on the broker between connections, for as long as the broker's `sessionS` says. */
  readonly persistent: boolean
  readonly will?: LastWill
  /** Called again with another client where the broker speaks 3.1.1 only. */
  readonly onClient: (client: MqttClient) => void
  readonly news: (news: ConnectionNews) => void
}

/** Return codes of CONNACK for a version the broker does not speak: MQTT 3.1.1 §3.2.2.3, MQTT 5.0 §3.2.2.2. */
const UNSUPPORTED_VERSION: ReadonlySet<unknown> = new Set([1, 132])

export function isUnsupportedVersion(code: unknown): boolean {
  return UNSUPPORTED_VERSION.has(code)
}

export const CONNECT_TIMEOUT_MS = 10_000
const END_MS = 2_000

/**
 * Connects with the version the broker's settings say, else with MQTT 5 and, where the broker refuses that, with
 * 3.1.1; connects again by itself, after a wait that grows and varies, whenever the connection is lost or refused.
 * @returns what ends the connection; unfinished work is given up after `END_MS`
 */
export function connectMqtt(connection: MqttConnection): () => Promise<void> {
  const { broker, news, onClient } = connection
  const fault = faultOfSettings(broker)
  if (fault !== undefined) {
    news({ state: 'refused', problem: fault })
    return async () => {}
  }
  let client = open(broker.version === '3.1.1' ? 4 : 5)
  return () => endClient(client)

  function open(version: 4 | 5): MqttClient {
    const made = mqtt.connect(broker.url, mqttOptions(connection, version))
    reconnectWithJitter(made)
    tellNews(made, connection, code => {
      if (version === 4 || broker.version !== undefined || !isUnsupportedVersion(code)) return false
      made.removeAllListeners('close')
      made.end(true)
      client = open(4)
      return true
    })
    onClient(made)
    return made
  }
}

/** As `mqtt` is to be told; a check of a connection uses the same. */
export function mqttOptions(connection: Omit<MqttConnection, 'onClient' | 'news'>, version: 4 | 5): IClientOptions {
  const { broker, clientId, receiveMaximum, persistent, will } = connection
  return {
    protocolVersion: version,
    clientId,
    clean: !persistent,
    ...brokerOptions(broker),
    keepalive: 60,
    connectTimeout: CONNECT_TIMEOUT_MS,
    // Without it a refused connection is one error event and then silence.
    reconnectOnConnackError: true,
    resubscribe: false,
    queueQoSZero: false,
    ...(will === undefined
      ? {}
      : { will: { topic: will.topic, payload: Buffer.from(will.body), qos: 1, retain: true } }),
    ...(version === 4
      ? {}
      : {
          properties: {
            ...(persistent ? { sessionExpiryInterval: broker.sessionS } : {}),
            ...(receiveMaximum === undefined ? {} : { receiveMaximum }),
          },
        }),
  }
}

/** Connections in a row that ended within seconds before it is said that somebody else may be using our client id. */
const SHORT_MS = 10_000
const SHORT_ONES = 3

/**
 * Tells each attempt once: connected, lost, or refused and why. `mqtt` gives the same error of TLS twice, and none at
 * all where the broker closes the connection in place of an answer.
 * @param replaced true where another client goes on in place of this one
 */
function tellNews(client: MqttClient, connection: MqttConnection, replaced: (code: unknown) => boolean): void {
  const { news } = connection
  const who: Who = { ...connection, connectTimeoutMs: CONNECT_TIMEOUT_MS }
  let connectedMs: number | undefined
  let told = false
  let short = 0
  const refused = (problem: string): void => {
    if (!told) news({ state: 'refused', problem })
    told = true
  }
  client.on('connect', ({ sessionPresent }) => {
    connectedMs = performance.now()
    told = false
    news({ state: 'connected', sessionPresent })
  })
  client.on('reconnect', () => {
    told = false
  })
  client.on('error', (error: Error & { code?: unknown }) => {
    if (connectedMs === undefined && replaced(error.code)) return
    refused(sayConnectError(error, who))
  })
  client.on('disconnect', ({ reasonCode = 0 }) => {
    const problem = sayReason(reasonCode, who)
    if (problem !== undefined) refused(problem)
  })
  client.on('close', () => {
    if (client.disconnecting) return
    if (connectedMs === undefined) {
      refused(sayClosedUnanswered(who))
    } else {
      short = performance.now() - connectedMs < SHORT_MS ? short + 1 : 0
      connectedMs = undefined
      news({ state: 'disconnected' })
      if (short >= SHORT_ONES) refused(sayEndsAtOnce(who))
    }
  })
}

/**
 * Lets what is under way be acknowledged and says goodbye, so that the broker does not publish the last will. Where
 * that takes too long the socket is destroyed: `mqtt` neither ends twice nor ends what is still connecting.
 */
async function endClient(client: MqttClient): Promise<void> {
  if (!client.connected) {
    client.end(true)
    client.stream.destroy()
    return
  }
  await new Promise<void>(resolve => {
    const giveUp = setTimeout(() => {
      client.stream.destroy()
      resolve()
    }, END_MS)
    client.end(false, {}, () => {
      clearTimeout(giveUp)
      resolve()
    })
  })
}
