import { readFileSync } from 'node:fs'
import mqtt from 'mqtt'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import { checkMqtt, type MqttCheckOptions } from '../../src/adapters/connectCheck/checkMqtt.js'
import type { ConnectFinding } from '../../src/adapters/connectCheck/finding.js'
import { brokerAt, type MqttBroker } from '../../src/adapters/connectionsFile.js'
import { secretOf } from '../../src/adapters/secret.js'
import { hasMosquitto, type Mosquitto, startMosquitto } from '../support/mosquitto.js'

const open: (() => Promise<unknown>)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

describe.skipIf(!hasMosquitto()).each([5, '3.1.1'] as const)('check of a broker, Mosquitto, MQTT %s', version => {
  let roomy: Mosquitto
  let small: Mosquitto
  let secure: Mosquitto
  beforeAll(async () => {
    ;[roomy, small, secure] = await Promise.all([
      startMosquitto(),
      startMosquitto({ small: true }),
      startMosquitto({ secure: true }),
    ])
  })
  afterAll(() => Promise.all([roomy.stop(), small.stop(), secure.stop()]))

  it('finds nothing wrong with the settings of deploy/mosquitto.conf, and retains nothing', async () => {
    await sendReadings(roomy)
    expect(await check({ ...brokerAt(roomy.url), version, publishEvents: true })).toEqual([
      ok(`logged in with MQTT ${version}, without user and password`),
      ok('feed readings: messages come on site/#'),
      ok('events can be published under turbidrift/hollin-weir/#'),
      ok('sessions outlive their connection, and 1500 of 1500 messages waited in one'),
    ])
    const left: string[] = []
    const reader = await mqtt.connectAsync(roomy.url)
    open.push(() => reader.endAsync(true))
    reader.on('message', topic => left.push(topic))
    await reader.subscribeAsync('turbidrift/#')
    await reader.subscribeAsync('a/round/trip')
    expect(left).toEqual([])
  })

  it('finds the default queue of a broker that drops the rest without an error', async () => {
    await sendReadings(small)
    const found = await check({ ...brokerAt(small.url), version })
    // 1000 queued and 20 in flight are the defaults: mosquitto.conf(5) of 2.0.
    expect(found.filter(({ state }) => state === 'wrong').map(({ says }) => says)).toEqual([
      expect.stringMatching(
        /^the broker keeps 10[0-2]\d of 1500 messages for a session that is away and drops the rest without an error: set its queue to no limit/,
      ),
    ])
    expect(found.filter(({ state }) => state === 'warning').map(({ says }) => says)).toEqual(
      version === 5
        ? []
        : [
            'the broker sends only 20 messages before one is acknowledged, so batches cannot be full: let it have 1000 under way (Mosquitto: max_inflight_messages)',
          ],
    )
  })

  it('works with the rights of deploy/mosquitto-access', async () => {
    const found = await check({ ...service(), version, publishEvents: true })
    expect(found).toEqual([
      ok(`logged in with MQTT ${version} as turbidrift`),
      silent('readings', 'site/#'),
      ok('events can be published under turbidrift/hollin-weir/#'),
      ok('sessions outlive their connection, and 1500 of 1500 messages waited in one'),
    ])
  })

  it('says what a user without rights lacks, as far as it can be told', async () => {
    const { user, password } = secure.secure!.stranger
    const stranger = { ...service(), version, username: user, password: secretOf(password), publishEvents: true }
    const found = await check(stranger)
    const refused =
      'the broker does not let the user stranger publish to turbidrift/hollin-weir/#: give it the right to write there'
    expect(found.slice(0, 3)).toEqual([
      ok(`logged in with MQTT ${version} as stranger`),
      silent('readings', 'site/#'),
      version === 5
        ? { connection: 'mqtt.scada', state: 'wrong', says: refused }
        : {
            connection: 'mqtt.scada',
            state: 'warning',
            says: 'whether events can be published under turbidrift/hollin-weir/# is not to be told with MQTT 3.1.1, which acknowledges what it throws away: look at the rights there',
          },
    ])
    expect(found[3]).toMatchObject({ state: 'warning' })
    expect(found[3]!.says).toMatch(
      /^how much the broker keeps for a session that is away could not be tried \(.*\): give us the right to read and write turbidrift\/hollin-weir\/check\/#/,
    )
    expect(found).toHaveLength(4)
  })

  it('says one thing of a broker that lets nobody in, and no secret', async () => {
    const wrong = { ...service(), version, password: secretOf('not-the-password') }
    const found = await check(wrong)
    expect(found).toEqual([
      {
        connection: 'mqtt.scada',
        state: 'wrong',
        says: 'the broker does not let the user turbidrift in: correct username or password, or let this user in there',
      },
    ])
    expect(JSON.stringify(found)).not.toContain('not-the-password')
  })

  function service(): MqttBroker {
    const { ca, user, password } = secure.secure!
    const tls = { ca: readFileSync(ca, 'utf8') }
    return { ...brokerAt(secure.url), username: user, password: secretOf(password), tls }
  }
})

/** A gateway that sends while the check runs. */
async function sendReadings(broker: Mosquitto): Promise<void> {
  const sender = await mqtt.connectAsync(broker.url)
  const timer = setInterval(() => sender.publish('site/a', '{}', { qos: 1 }), 100)
  open.push(async () => {
    clearInterval(timer)
    await sender.endAsync(true)
  })
}

function check(broker: MqttBroker): Promise<readonly ConnectFinding[]> {
  const options: MqttCheckOptions = {
    connection: 'mqtt.scada',
    broker,
    plant: 'hollin-weir',
    feeds: [{ name: 'readings', filter: 'site/#' }],
    receiveMaximum: 1_000,
  }
  return checkMqtt(options)
}

function ok(says: string): ConnectFinding {
  return { connection: 'mqtt.scada', state: 'ok', says }
}

function silent(feed: string, filter: string): ConnectFinding {
  const says = `feed ${feed}: the subscription to ${filter} is granted, but nothing came within 3 s: if messages are sent there now, give us the right to read them (some brokers grant what they then do not send)`
  return { connection: 'mqtt.scada', state: 'warning', says }
}
