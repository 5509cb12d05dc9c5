import type { MqttBroker } from './connectionsFile.js'
import { sayConnectionError, type Target } from './sayConnectionError.js'

const MQTT_PORT = 1883
const MQTTS_PORT = 8883
const WORDS = { withTls: 'mqtts://', without: 'mqtt://' }

/** What is told about a connection, so that each problem is said in one sentence with the next step. */
export interface Who {
  readonly broker: MqttBroker
  readonly clientId: string
  readonly connectTimeoutMs: number
}

/** Host and port of a broker, as they may stand in a log. */
export function targetOf({ url }: MqttBroker): Target {
  const { hostname, port, protocol } = new URL(url)
  const tls = protocol === 'mqtts:'
  const host = hostname.replace(/^\[(.*)\]$/, '$1')
  return { host, port: port === '' ? (tls ? MQTTS_PORT : MQTT_PORT) : Number(port), tls }
}

/** A sentence for an error event of the client: of the socket, of TLS, or a refusal of the login. */
export function sayConnectError(error: Error & { readonly code?: unknown }, who: Who): string {
  const target = targetOf(who.broker)
  const at = `${target.host}:${String(target.port)}`
  if (typeof error.code === 'number') return sayReason(error.code, who) ?? `${at} refuses: ${error.message}`
  if (error.message === CONNACK_TIMEOUT) {
    const words = target.tls ? WORDS.without : WORDS.withTls
    return `${at} did not answer within ${String(who.connectTimeoutMs / 1_000)} s: check the address and port, the firewalls between, that the broker is not stuck, and whether it wants ${words}`
  }
  return sayConnectionError(error, target, WORDS) ?? `the connection to ${at} failed: ${error.message}`
}

/** What `mqtt` calls the error of a broker that never answered a CONNECT. */
const CONNACK_TIMEOUT = 'connack timeout'

/** The broker closed the connection before it answered, and no error came with it. */
export function sayClosedUnanswered({ broker }: Who): string {
  return sayConnectionError({ code: 'ECONNRESET' }, targetOf(broker), WORDS)!
}

/** Connections that end again and again shortly after the login. */
export function sayEndsAtOnce({ clientId }: Who): string {
  return `the broker ends the connection again and again right after the login: look whether another client, or a second service of this plant, uses the client id ${clientId}, and read the broker’s log`
}

/**
 * A sentence for a reason code of CONNACK or DISCONNECT: MQTT 3.1.1 §3.2.2.3; MQTT 5.0 §3.2.2.2 and §3.14.2.1.
 * @returns undefined for codes that need no word of their own
 */
export function sayReason(code: number, { broker, clientId }: Who): string | undefined {
  const user = sayUser(broker)
  switch (code) {
    case 1:
    case 132:
      return `the broker does not speak MQTT ${broker.version === undefined ? '5 or 3.1.1' : String(broker.version)}: leave out version, or set the other one`
    case 2:
    case 133:
      return `the broker does not accept the client id ${clientId}: allow it there`
    case 3:
    case 136:
    case 137:
    case 139:
      return 'the broker is not available now: it is tried again; read the broker’s log if that lasts'
    case 4:
    case 5:
    case 134:
    case 135:
      return sayNotLetIn(broker)
    case 138:
      return `the broker has banned the client id ${clientId} or ${user}: lift that there`
    case 140:
      return 'the broker wants another way to log in than user and password or a certificate: allow one of these there'
    case 141:
      return 'the broker heard nothing of us for too long: check the load of this machine and the network between'
    case 142:
      return `another client took over the client id ${clientId}: end the second service of this plant, or the other client that uses this id`
    case 149:
      return 'a message is larger than the broker takes: raise message_size_limit or max_packet_size there to 65536'
    case 151:
      return 'the broker’s quota for us is used up: raise it there'
    case 156:
    case 157:
      return 'the broker says that another server is to be used: change the url'
    default:
      return undefined
  }
}

/**
 * The reason code with which a broker refused a message or a subscription; undefined where it did not, as when the
 * connection was lost. Of a subscription `mqtt` hands on the whole SUBACK, in which 128 and above are refusals: MQTT
 * 3.1.1 §3.9.3, MQTT 5.0 §3.9.3.
 */
export function refusalOf(error: unknown): number | undefined {
  const { code, packet } = (error ?? {}) as { code?: unknown; packet?: { granted?: readonly number[] } }
  return typeof code === 'number' ? code : packet?.granted?.find(granted => granted >= 128)
}

/** A sentence for a subscription that was not granted. @param code of SUBACK, MQTT 5.0 §3.9.3 */
export function saySubscriptionRefused(filter: string, code: number, broker: MqttBroker): string {
  if (code === 158) return `the broker has no shared subscriptions: ${filter} cannot be subscribed to there`
  if (code === 162) return `the broker has no wildcards in subscriptions: ${filter} cannot be subscribed to there`
  return `the broker does not grant the subscription to ${filter}: give ${sayUser(broker)} the right to read it there`
}

/** A sentence for a message the broker did not take. @param code of PUBACK, MQTT 5.0 §3.4.2.1 */
export function sayPublishRefused(topic: string, code: number, broker: MqttBroker): string {
  if (code === 135)
    return `the broker does not let ${sayUser(broker)} publish to ${topic}: give it the right to write there`
  return `the broker does not take what is published to ${topic} (reason ${String(code)}): read the broker’s log`
}

function sayNotLetIn(broker: MqttBroker): string {
  if (broker.username !== undefined) {
    return `the broker does not let ${sayUser(broker)} in: correct username or password, or let this user in there`
  }
  if (broker.tls?.cert !== undefined) return 'the broker knows no user of our certificate: let the name in it in there'
  return 'the broker lets nobody in without user and password: state username and password'
}

function sayUser({ username, tls }: MqttBroker): string {
  if (username !== undefined) return `the user ${username}`
  return tls?.cert === undefined ? 'clients without user and password' : 'the user of our certificate'
}
