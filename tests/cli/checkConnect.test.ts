import { afterAll, beforeAll, expect, it } from 'vitest'
import { type EmbeddedBroker, startEmbeddedBroker } from '../../src/adapters/embeddedBroker.js'
import { freePorts } from '../support/servers/freePorts.js'
import { startReceiver, type WebhookReceiver } from '../support/webhookReceiver.js'
import { REGISTER, run, scratch } from './support.js'

const { put } = scratch()
/** Sessions and queues are tried for real, with clients that come and go. */
const DEADLINE_MS = 60_000
const KEY = `whsec_${Buffer.alloc(24, 7).toString('base64')}`
let broker: EmbeddedBroker
let receiver: WebhookReceiver
let nobody: number
beforeAll(async () => {
  const nothing = () => {}
  const started = await startEmbeddedBroker({
    port: 0,
    reserved: [],
    onPublish: () => false,
    clientsChanged: nothing,
    clientFailed: nothing,
    failed: nothing,
  })
  if (!started.ok) throw new Error(started.problem)
  broker = started.broker
  receiver = await startReceiver(() => 204)
  ;[nobody] = (await freePorts(1)) as [number]
})
afterAll(async () => {
  await broker.close()
  await receiver.stop()
})

const REGISTER_WITH_FEED = `${REGISTER}feeds:
  - { name: readings, type: mqtt, connection: scada, topic: "site/#" }
`

function connections(more = ''): string {
  return put(
    'connections.yaml',
    `mqtt:
  scada: { url: "mqtt://127.0.0.1:${broker.port}", publishEvents: true }
webhooks:
  maintenance: { url: "${receiver.url}", secrets: [ { file: key } ], allowPrivateAddresses: true }
${more}`,
  )
}

it(
  'check --connect says of each connection what was found, and ends with 0 where nothing is wrong',
  async () => {
    put('key', KEY)
    const register = put('register.yaml', REGISTER_WITH_FEED)
    const args = ['check', '--connect', '--register', register, '--connections', connections(), '--format', 'table']
    const ran = await run(args)
    expect(ran.told).toBe('')
    expect(ran.out.split('\n').filter(line => /^(ok|warning|wrong) /.test(line))).toEqual([
      'ok       mqtt.scada: logged in with MQTT 3.1.1, without user and password',
      'warning  mqtt.scada: feed readings: the subscription to site/# is granted, but nothing came within 3 s: if messages are sent there now, give us the right to read them (some brokers grant what they then do not send)',
      'ok       mqtt.scada: events can be published under turbidrift/hollin-weir/#',
      'ok       mqtt.scada: sessions outlive their connection, and 1500 of 1500 messages waited in one',
      `ok       webhooks.maintenance: 127.0.0.1:${receiver.port} is reached at 127.0.0.1; no event was sent`,
    ])
    expect(ran.code).toBe(0)
    expect(receiver.received).toEqual([])
  },
  DEADLINE_MS,
)

it(
  'check --connect ends with 1 where something is wrong, and shows no secret',
  async () => {
    put('key', KEY)
    put('password', 'secret-of-influx')
    const register = put('register.yaml', REGISTER_WITH_FEED)
    const wrong = `  inside: { url: "https://localhost:${nobody}/hook", secrets: [ { file: key } ] }
  closed: { url: "https://127.0.0.1:${nobody}/hook", secrets: [ { file: key } ], allowPrivateAddresses: true }
influx: { url: "http://127.0.0.1:${nobody}", database: turbidrift, username: service, password: { file: password } }
kafka: { brokers: [ "127.0.0.1:${nobody}" ] }
`
    const ran = await run(['check', '--connect', '--register', register, '--connections', connections(wrong)])
    expect(ran).toMatchObject({ code: 1, told: '' })
    const found = ran.out
      .trim()
      .split('\n')
      .map(line => JSON.parse(line) as { connection?: string; state?: string; says?: string })
      .filter(({ state }) => state === 'wrong')
    const nobodyListens = `nothing listens on 127.0.0.1:${nobody}: start the server there, or correct the host or the port`
    expect(found.map(({ connection }) => connection)).toEqual(['kafka', 'influx', 'webhooks.inside', 'webhooks.closed'])
    expect(found[1]!.says).toBe(nobodyListens)
    expect(found[2]!.says).toMatch(
      /^localhost leads to no address that events may be sent to \(.* is loopback, RFC .*allowPrivateAddresses/,
    )
    expect(found[3]!.says).toBe(nobodyListens)
    for (const secret of [KEY, KEY.slice(6), 'secret-of-influx']) expect(ran.out + ran.told).not.toContain(secret)
  },
  DEADLINE_MS,
)

it('check refuses a feed whose connection is not stated, and tries nothing without being asked', async () => {
  const register = put('register.yaml', REGISTER_WITH_FEED)
  const file = put('none.yaml', 'mqtt: {}')
  const ran = await run(['check', '--register', register, '--connections', file])
  expect(ran.code).toBe(1)
  expect(ran.told).toMatch(/^feed readings of hollin-weir: connection scada /)
  expect((await run(['check', '--register', register])).code).toBe(0)
  const empty = await run(['check', '--connect', '--register', put('plain.yaml', REGISTER)])
  expect(empty).toMatchObject({ code: 0, told: 'note: no connection is stated, so there is none to try\n' })
})
