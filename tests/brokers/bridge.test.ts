import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { build } from '../faults/built.js'
import { readCommitted } from '../faults/kafkaRecords.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, type Mosquitto, startMosquitto } from '../support/mosquitto.js'
import { hasKafka, type KafkaServers, startKafka } from '../support/servers/kafka.js'
import { runTurbidrift } from './kafkaProcess.js'

const PARTITIONS = 2
const PLANTS = ['upper-weir', 'lower-weir']

describe.skipIf(!hasKafka() || !hasMosquitto())('the bridge', () => {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-bridge-'))
  let servers: KafkaServers
  let broker: Mosquitto
  beforeAll(async () => {
    build()
    servers = await startKafka()
    broker = await startMosquitto()
  }, 180_000)
  afterAll(async () => {
    await servers.stop()
    await broker.stop()
    rmSync(folder, { recursive: true })
  })

  it('copies the feeds of plants, mapped and keyed, and puts aside what it cannot read', async () => {
    const { topics, bridge } = await prepare('copied')
    const copying = bridge()
    await copying.says('Connected to the broker')
    const sender = await mqtt.connectAsync(broker.url)
    await eventually(
      'both feeds are subscribed',
      () => copying.said.filter(line => line.includes('Connected to')).length === 2,
    )
    await publishUntilTaken(sender, 'copied/upper-weir/FE1-A', '{"v":0.12,"t":1774994400}', topics.in)
    await sender.publishAsync('copied/lower-weir/FE1-A', '{"v":0.3,"t":1774994460}', { qos: 1 })
    await sender.publishAsync('copied/upper-weir/FE1-A', '{"v":', { qos: 1 })
    await sender.endAsync()
    await eventually('all is there', async () => (await ends(topics.in)) >= 2 && (await ends(topics.deadLetters)) >= 1)
    expect(await copying.end('SIGTERM')).toBe(0)
    const reading = (value: number, time: string) => ({ kind: 'reading', analyzer: 'FE1-A', value, time, unit: 'NTU' })
    // The first may have been published more than once.
    expect(new Map(await recordsOf(topics.in))).toEqual(
      new Map([
        ['upper-weir', reading(0.12, '2026-03-31T22:00:00.000Z')],
        ['lower-weir', reading(0.3, '2026-03-31T22:01:00.000Z')],
      ]),
    )
    const [letter] = await readCommitted(servers.client(), topics.deadLetters, PARTITIONS)
    expect(JSON.parse(letter!)).toMatchObject({
      reason: 'malformed_json',
      feed: 'plc',
      position: 'copied/upper-weir/FE1-A',
      excerpt: '{"v":',
    })
  })

  it('loses nothing when it is killed again and again while messages flow', async () => {
    const { topics, bridge } = await prepare('killed')
    const count = 3_000
    let copying = bridge()
    await eventually(
      'both feeds are subscribed',
      () => copying.said.filter(line => line.includes('Connected to')).length === 2,
    )
    const sender = await mqtt.connectAsync(broker.url)
    await publishUntilTaken(sender, 'killed/upper-weir/FE1-A', message(0), topics.in)
    for (let n = 1; n < count; n++) {
      await sender.publishAsync('killed/upper-weir/FE1-A', message(n), { qos: 1 })
      if (n % 600 !== 300) continue
      await copying.end('SIGKILL')
      copying = bridge()
    }
    const values = async () => new Set((await recordsOf(topics.in)).map(([, { value }]) => value))
    await eventually('all is there', async () => (await ends(topics.in)) >= count)
    await eventually('each is there', async () => (await values()).size === count, 60_000)
    expect(await copying.end('SIGTERM')).toBe(0)
    await sender.endAsync()
  })

  it('divides the messages of a shared subscription among its members', async () => {
    const { topics, bridge } = await prepare('shared')
    const copying = bridge('--shared', 'bridges')
    await eventually(
      'both feeds are subscribed',
      () => copying.said.filter(line => line.includes('Connected to')).length === 2,
    )
    const sender = await mqtt.connectAsync(broker.url)
    // Another member of the same share takes its part, so that less than all is copied.
    const other = await mqtt.connectAsync(broker.url, { protocolVersion: 5 })
    let elsewhere = 0
    other.on('message', () => elsewhere++)
    await other.subscribeAsync('$share/bridges/shared/upper-weir/+', { qos: 1 })
    for (let n = 0; n < 100; n++) await sender.publishAsync('shared/upper-weir/FE1-A', message(n), { qos: 1 })
    await eventually('each has gone to one of them', async () => elsewhere + (await ends(topics.in)) >= 100)
    expect(elsewhere).toBeGreaterThan(0)
    expect(await ends(topics.in)).toBeGreaterThan(0)
    expect(await copying.end('SIGTERM')).toBe(0)
    await Promise.all([sender.endAsync(), other.endAsync()])
  })

  async function prepare(name: string) {
    const topics = {
      in: `${name}.in`,
      events: `${name}.events`,
      changelog: `${name}.changelog`,
      deadLetters: `${name}.dead`,
    }
    await servers.createTopics(
      Object.values(topics).map(topic => ({
        topic,
        partitions: PARTITIONS,
        ...(topic === topics.changelog ? { settings: { 'cleanup.policy': 'compact' } } : {}),
      })),
    )
    const connections = join(folder, `${name}.connections.yaml`)
    writeFileSync(
      connections,
      JSON.stringify({
        mqtt: { site: { url: broker.url } },
        kafka: { brokers: servers.bootstrap, group: name, topics },
      }),
    )
    const registers = PLANTS.map(plant => {
      const path = join(folder, `${name}-${plant}.yaml`)
      const map = { fields: { value: 'v', time: 't' }, constants: { unit: 'NTU' }, time: 'epochS' }
      const feed = { name: 'plc', type: 'mqtt', connection: 'site', topic: `${name}/${plant}/{analyzer}`, map }
      writeFileSync(
        path,
        JSON.stringify({ plant, points: { FE1: { analyzers: { 'FE1-A': { unit: 'NTU' } } } }, feeds: [feed] }),
      )
      return path
    })
    const bridge = (...args: readonly string[]) =>
      runTurbidrift('bridge', '--register', ...registers, '--connections', connections, ...args)
    return { topics, bridge }
  }

  /** A subscription is not told of; what comes before it is nobody's. */
  async function publishUntilTaken(
    sender: mqtt.MqttClient,
    topic: string,
    payload: string,
    into: string,
  ): Promise<void> {
    await eventually('the first message is copied', async () => {
      await sender.publishAsync(topic, payload, { qos: 1 })
      return (await ends(into)) > 0
    })
  }

  async function ends(topic: string): Promise<number> {
    const admin = servers.client().admin()
    await admin.connect()
    const offsets = await admin.fetchTopicOffsets(topic)
    await admin.disconnect()
    return offsets.reduce((sum, { high }) => sum + Number(high), 0)
  }

  async function recordsOf(topic: string): Promise<[string, { value: number }][]> {
    const consumer = servers.client().consumer({ groupId: `look-${topic}-${String(Math.random())}` })
    const records: [string, { value: number }][] = []
    const count = await ends(topic)
    await consumer.connect()
    await consumer.subscribe({ topic, fromBeginning: true })
    await consumer.run({
      eachMessage: async ({ message: { key, value } }) => {
        records.push([key!.toString(), JSON.parse(value!.toString()) as { value: number }])
      },
    })
    await eventually(`${count} records are read`, () => records.length >= count)
    await consumer.disconnect()
    return records
  }
})

function message(n: number): string {
  return JSON.stringify({ v: n / 1_000, t: 1_774_994_400 + n })
}
