import { randomUUID } from 'node:crypto'
import { setTimeout as wait } from 'node:timers/promises'
import type { IConnackPacket, MqttClient } from 'mqtt'
import type { MqttBroker } from '../connectionsFile.js'
import { faultOfSettings } from '../mqttOptions.js'
import { refusalOf, sayPublishRefused, saySubscriptionRefused } from '../mqttProblems.js'
import { topicsOut } from '../mqttTopics.js'
import { type ConnectFinding, type Findings, findingsOf } from './finding.js'
import { forget, logIn, logOut, throwAwayId } from './mqttLogin.js'
import { trySession } from './mqttSession.js'
import { sayAnswer, sayTrial } from './sayBroker.js'

export interface MqttCheckOptions {
  readonly connection: string
  readonly broker: MqttBroker
  readonly plant: string
  /** What the service reads there. */
  readonly feeds: readonly { readonly name: string; readonly filter: string }[]
  /** How many messages the service lets the broker have under way. */
  readonly receiveMaximum: number
}

/** So long a feed is listened to, for a message that shows that the right to read is there. */
const LISTEN_MS = 3_000

/**
 * Tries a broker as the service will use it. Nothing is published but on a topic of our own,
 * `turbidrift/<plant>/check/<id>`, and nothing of it is retained.
 */
export async function checkMqtt(options: MqttCheckOptions): Promise<readonly ConnectFinding[]> {
  const { connection, broker, plant, feeds } = options
  const findings = findingsOf(connection)
  const fault = faultOfSettings(broker)
  if (fault !== undefined) {
    findings.wrong(fault)
    return findings.found
  }
  const login = await logIn({ broker, clientId: throwAwayId(), persistent: false })
  if (!login.ok) {
    findings.wrong(login.problem)
    return findings.found
  }
  const { client, version } = login
  findings.ok(`logged in with MQTT ${version === 5 ? '5' : '3.1.1'}${sayAs(broker)}`)
  const scratch = `${topicsOut(plant)}check/${randomUUID().slice(0, 8)}`
  try {
    for (const feed of feeds) await checkFeed(client, feed, broker, findings)
    if (broker.publishEvents) await checkPublishing(client, scratch, options, findings)
  } catch (error) {
    findings.wrong(
      `the connection was lost while it was tried: ${error instanceof Error ? error.message : 'no reason'}`,
    )
  } finally {
    await logOut(client)
  }
  if (version === 5) sayAnswer(await answerToSession(broker), options, findings)
  if (feeds.length > 0) sayTrial(await trySession({ ...options, topic: scratch }), options, findings)
  return findings.found
}

/** What the broker answers where a session is asked for, as the feeds will: it says then how long it keeps one. */
async function answerToSession(broker: MqttBroker): Promise<IConnackPacket['properties']> {
  const settings = { broker, clientId: throwAwayId(), persistent: true }
  const login = await logIn(settings)
  if (!login.ok) return undefined
  await logOut(login.client)
  await forget(settings)
  return login.connack.properties
}

function sayAs({ username, tls }: MqttBroker): string {
  if (username !== undefined) return ` as ${username}`
  return tls?.cert === undefined ? ', without user and password' : ' with our certificate'
}

async function checkFeed(
  client: MqttClient,
  { name, filter }: MqttCheckOptions['feeds'][number],
  broker: MqttBroker,
  findings: Findings,
): Promise<void> {
  const answer = await refusalOr(() => hear(client, filter))
  if ('code' in answer) findings.wrong(`feed ${name}: ${saySubscriptionRefused(filter, answer.code, broker)}`)
  else if (answer.qos < 1) {
    findings.wrong(`feed ${name}: the broker grants ${filter} without acknowledgements (QoS 0): allow QoS 1 there`)
  } else if (answer.heard) findings.ok(`feed ${name}: messages come on ${filter}`)
  else {
    findings.warn(
      `feed ${name}: the subscription to ${filter} is granted, but nothing came within ${String(LISTEN_MS / 1_000)} s: if messages are sent there now, give us the right to read them (some brokers grant what they then do not send)`,
    )
  }
}

/** Only MQTT 5 says no. With 3.1.1 a message that comes back is the one proof there is. */
async function checkPublishing(
  client: MqttClient,
  scratch: string,
  { broker, plant }: MqttCheckOptions,
  findings: Findings,
): Promise<void> {
  const own = `${topicsOut(plant)}#`
  const publish = () => client.publishAsync(scratch, 'a message of turbidrift check --connect', { qos: 1 })
  const answer = await refusalOr(async () => {
    if (client.options.protocolVersion !== 5) return hear(client, scratch, publish)
    await publish()
    return { heard: true }
  })
  if ('code' in answer) findings.wrong(sayPublishRefused(own, answer.code, broker))
  else if (answer.heard) findings.ok(`events can be published under ${own}`)
  else {
    findings.warn(
      `whether events can be published under ${own} is not to be told with MQTT 3.1.1, which acknowledges what it throws away: look at the rights there`,
    )
  }
}

/** Subscribes, and tells whether a message comes within a while. @param act what may bring one */
async function hear(
  client: MqttClient,
  filter: string,
  act?: () => Promise<unknown>,
): Promise<{ readonly qos: number; readonly heard: boolean }> {
  const heard = { one: false }
  const listen = (): void => {
    heard.one = true
  }
  client.on('message', listen)
  try {
    const [grant] = await client.subscribeAsync(filter, { qos: 1 })
    await act?.()
    for (let waitedMs = 0; waitedMs < LISTEN_MS && !heard.one; waitedMs += 50) await wait(50)
    await client.unsubscribeAsync(filter)
    return { qos: grant?.qos ?? 0, heard: heard.one }
  } finally {
    client.off('message', listen)
  }
}

/** The reason code where the broker refused; anything else that went wrong is thrown on. */
async function refusalOr<T>(run: () => Promise<T>): Promise<T | { readonly code: number }> {
  try {
    return await run()
  } catch (error) {
    const code = refusalOf(error)
    if (code === undefined) throw error
    return { code }
  }
}
