import { setTimeout as wait } from 'node:timers/promises'
import type { MqttClient } from 'mqtt'
import type { MqttBroker } from '../connectionsFile.js'
import { acknowledgeLater, type Delivery } from '../mqttAcknowledge.js'
import { refusalOf, sayPublishRefused } from '../mqttProblems.js'
import { forget, type LoginSettings, logIn, logOut, throwAwayId } from './mqttLogin.js'

/** What a broker did for a session that went away and came back. */
export type SessionTrial =
  | {
      readonly ok: true
      /** Messages sent while the session was away, and those among them that came when it was back. */
      readonly sent: number
      readonly came: number
      /** How many the broker had under way before it wanted one acknowledged. */
      readonly window: number
    }
  | { readonly ok: false; readonly why: 'no_session' | 'nothing_came' }
  | { readonly ok: false; readonly why: 'failed'; readonly problem: string }

export interface SessionTrialOptions {
  readonly broker: MqttBroker
  /** A topic of our own that nobody else uses. */
  readonly topic: string
  /** What the service asks for: the broker may have so many messages under way. */
  readonly receiveMaximum: number
}

const SESSION_S = 300
/** More than the service has under way, and more than the usual default of brokers that drop. */
const MESSAGES = 1_500
/** As long as a reading. */
const PAYLOAD = JSON.stringify({ kind: 'check', note: 'a message of turbidrift check --connect'.padEnd(150, '.') })
/** Nothing more comes when nothing has come for so long. */
const QUIET_MS = 1_500

/**
 * Tries what no broker can be asked: whether a session outlives its connection, how many messages are kept for it, and
 * how many are sent before one is acknowledged. With a client id, a session and a topic that are thrown away again.
 */
export async function trySession({ broker, topic, receiveMaximum }: SessionTrialOptions): Promise<SessionTrial> {
  // Where this ends before it has tidied up, MQTT 5 forgets the session soon by itself.
  const shortLived = { ...broker, sessionS: SESSION_S }
  const session: LoginSettings = { broker: shortLived, clientId: throwAwayId(), persistent: true, receiveMaximum }
  try {
    return await tryWith(session, topic)
  } catch (error) {
    return { ok: false, why: 'failed', problem: error instanceof Error ? error.message : String(error) }
  } finally {
    await forget(session)
  }
}

async function tryWith(session: LoginSettings, topic: string): Promise<SessionTrial> {
  const first = await connect(session)
  await first.subscribeAsync(topic, { qos: 1 })
  await logOut(first)

  const sender = await connect({ broker: session.broker, clientId: throwAwayId(), persistent: false })
  try {
    await publishAll(sender, topic, session.broker)
  } finally {
    await logOut(sender)
  }

  const deliveries: Delivery[] = []
  const take = (delivery: Delivery): void => {
    deliveries.push(delivery)
    delivery.next()
  }
  const back = await logIn(session, client => acknowledgeLater(client, take))
  if (!back.ok) throw new Error(back.problem)
  try {
    if (!back.connack.sessionPresent) return { ok: false, why: 'no_session' }
    const { window, came } = await count(deliveries)
    return came === 0 ? { ok: false, why: 'nothing_came' } : { ok: true, sent: MESSAGES, came, window }
  } finally {
    await logOut(back.client)
  }
}

async function connect(settings: LoginSettings): Promise<MqttClient> {
  const login = await logIn(settings)
  if (!login.ok) throw new Error(login.problem)
  return login.client
}

async function publishAll(sender: MqttClient, topic: string, broker: MqttBroker): Promise<void> {
  const together = Math.min(100, sender.serverProperties?.receiveMaximum ?? 100)
  for (let n = 0; n < MESSAGES; n += together) {
    const some = Array.from({ length: Math.min(together, MESSAGES - n) }, () =>
      sender.publishAsync(topic, PAYLOAD, { qos: 1 }),
    )
    try {
      await Promise.all(some)
    } catch (error) {
      const code = refusalOf(error)
      throw code !== undefined ? new Error(sayPublishRefused(topic, code, broker), { cause: error }) : error
    }
  }
}

/** Takes what waits: first without a word, to see how many are sent all the same, then acknowledging each. */
async function count(deliveries: readonly Delivery[]): Promise<{ readonly window: number; readonly came: number }> {
  let acknowledged = 0
  await quiet(() => deliveries.length)
  const window = deliveries.length
  await quiet(() => {
    for (const delivery of deliveries.slice(acknowledged)) delivery.acknowledge()
    acknowledged = deliveries.length
    return deliveries.length
  })
  return { window, came: deliveries.length }
}

/** Resolves when a number has not changed for a while. */
async function quiet(numberOf: () => number): Promise<void> {
  const step = 50
  for (let stillMs = 0, last = numberOf(); stillMs < QUIET_MS; stillMs += step) {
    await wait(step)
    const now = numberOf()
    if (now !== last) stillMs = 0
    last = now
  }
}
