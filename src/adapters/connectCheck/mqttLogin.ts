import { randomUUID } from 'node:crypto'
import mqtt, { type IConnackPacket, type MqttClient } from 'mqtt'
import { CONNECT_TIMEOUT_MS, isUnsupportedVersion, type MqttConnection, mqttOptions } from '../mqttConnection.js'
import { sayClosedUnanswered, sayConnectError } from '../mqttProblems.js'

export type Login =
  | { readonly ok: true; readonly client: MqttClient; readonly version: 4 | 5; readonly connack: IConnackPacket }
  | { readonly ok: false; readonly problem: string }

/** A connection that is tried for longer is given up: subscriptions and publishes of the client have no end of their own. */
export const TRIAL_MS = 60_000

export type LoginSettings = Omit<MqttConnection, 'onClient' | 'news'>

/**
 * Logs in once, as the service would and without another try: with 3.1.1 where the broker refuses 5.
 * @param prepare for what must be there before the first message
 */
export async function logIn(settings: LoginSettings, prepare?: (client: MqttClient) => void): Promise<Login> {
  const { version } = settings.broker
  if (version !== undefined) return attempt(settings, version === 5 ? 5 : 4, prepare)
  const newest = await attempt(settings, 5, prepare)
  return !newest.ok && isUnsupportedVersion(newest.code) ? attempt(settings, 4, prepare) : newest
}

/** Ends a connection and waits for it; what is still under way is given up. */
export async function logOut(client: MqttClient): Promise<void> {
  if (client.connected) await client.endAsync(false).catch(() => {})
  client.stream.destroy()
}

/** A clean start under the same id ends the session that was kept, with what waits in it. */
export async function forget({ broker, clientId }: LoginSettings): Promise<void> {
  const login = await logIn({ broker, clientId, persistent: false })
  if (login.ok) await logOut(login.client)
}

export function throwAwayId(): string {
  return `turbidrift:check:${randomUUID().slice(0, 8)}`
}

type Attempt = Extract<Login, { ok: true }> | { readonly ok: false; readonly problem: string; readonly code: unknown }

function attempt(
  settings: LoginSettings,
  version: 4 | 5,
  prepare: ((client: MqttClient) => void) | undefined,
): Promise<Attempt> {
  const who = { ...settings, connectTimeoutMs: CONNECT_TIMEOUT_MS }
  const client = mqtt.connect(settings.broker.url, {
    ...mqttOptions(settings, version),
    reconnectPeriod: 0,
  })
  prepare?.(client)
  return new Promise(resolve => {
    const fail = (problem: string, code?: unknown) => {
      client.end(true)
      client.stream.destroy()
      resolve({ ok: false, problem, code })
    }
    client.on('connect', connack => {
      const giveUp = setTimeout(() => client.stream.destroy(), TRIAL_MS).unref()
      client.on('close', () => clearTimeout(giveUp))
      resolve({ ok: true, client, version, connack })
    })
    client.on('error', (error: Error & { code?: unknown }) => fail(sayConnectError(error, who), error.code))
    client.on('close', () => fail(sayClosedUnanswered(who)))
  })
}
