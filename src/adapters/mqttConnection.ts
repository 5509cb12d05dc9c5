import mqtt, { type IClientOptions, type MqttClient } from 'mqtt'

export interface MqttCredentials {
  readonly username?: string
  readonly password?: string
}

export type ConnectionNews =
  | { readonly state: 'connected'; readonly sessionPresent: boolean }
  | { readonly state: 'disconnected' }
  | { readonly state: 'refused'; readonly problem: string }

export interface MqttConnectionOptions {
  readonly url: string
  readonly clientId: string
  readonly credentials?: MqttCredentials
  /** How many messages the broker may have under way to us; 3.1.1 has no word for it. */
  readonly receiveMaximum?: number
  /** Keep the session on the broker between connections. */
  readonly persistent: boolean
  readonly onClient: (client: MqttClient) => void
  readonly news: (news: ConnectionNews) => void
}

const SESSION_DAYS = 7
/** Return codes of CONNACK for a version the broker does not speak: MQTT 3.1.1 §3.2.2.3, MQTT 5.0 §3.2.2.2. */
const UNSUPPORTED_VERSION: ReadonlySet<unknown> = new Set([1, 132])

/**
 * Connects with MQTT 5 and, where the broker refuses that, with 3.1.1; connects again by itself whenever the
 * connection is lost. A certificate authority of the plant's own is named to Node by NODE_EXTRA_CA_CERTS.
 * @returns what ends the connection; unfinished work is given up after `END_MS`
 */
export function connectMqtt(options: MqttConnectionOptions): () => Promise<void> {
  let client = open(5)

  return () =>
    new Promise(resolve => {
      const giveUp = setTimeout(() => client.end(true, {}, () => resolve()), END_MS)
      client.end(false, {}, () => {
        clearTimeout(giveUp)
        resolve()
      })
    })

  function open(version: 4 | 5): MqttClient {
    const made = mqtt.connect(options.url, clientOptions(options, version))
    made.on('connect', packet => options.news({ state: 'connected', sessionPresent: packet.sessionPresent }))
    made.on('close', () => options.news({ state: 'disconnected' }))
    made.on('error', (error: Error & { code?: unknown }) => {
      if (version === 5 && UNSUPPORTED_VERSION.has(error.code)) {
        made.removeAllListeners('close')
        made.end(true)
        client = open(4)
      } else options.news({ state: 'refused', problem: error.message })
    })
    options.onClient(made)
    return made
  }
}

const END_MS = 2_000

/** A URL as it may stand in a log: without user and password. */
export function withoutCredentials(url: string): string {
  return url.replace(/\/\/[^/@]*@/, '//')
}

function clientOptions(options: MqttConnectionOptions, protocolVersion: 4 | 5): IClientOptions {
  return {
    protocolVersion,
    clientId: options.clientId,
    clean: !options.persistent,
    ...options.credentials,
    keepalive: 60,
    connectTimeout: 10_000,
    reconnectPeriod: 1_000,
    // Without it a refused connection is one error event and then silence.
    reconnectOnConnackError: true,
    resubscribe: false,
    queueQoSZero: false,
    ...(protocolVersion === 4
      ? {}
      : {
          properties: {
            ...(options.persistent ? { sessionExpiryInterval: SESSION_DAYS * 86_400 } : {}),
            ...(options.receiveMaximum === undefined ? {} : { receiveMaximum: options.receiveMaximum }),
          },
        }),
  }
}
