import { once } from 'node:events'
import { createConnection } from 'node:net'
import mqtt, { type MqttClient } from 'mqtt'
import { afterEach, describe, expect, it } from 'vitest'
import {
  type EmbeddedBroker,
  type EmbeddedBrokerOptions,
  startEmbeddedBroker,
} from '../../src/adapters/embeddedBroker.js'
import { mqttSink } from '../../src/adapters/mqttSink.js'
import { topicOf, topicsOut } from '../../src/adapters/mqttTopics.js'
import { eventually } from '../support/eventually.js'

const RESERVED = topicsOut('hollin-weir')
const open: (() => Promise<void>)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

describe('embedded broker', () => {
  it('tells the sender that a message is safe only when it was released', async () => {
    const held: (() => void)[] = []
    const broker = await start((_topic, _payload, release) => {
      held.push(release)
      return true
    })
    const sender = await connect(broker)
    const acknowledged: number[] = []
    for (const n of [1, 2, 3]) {
      void sender.publishAsync('turbidrift/in/reading', String(n), { qos: 1 }).then(() => acknowledged.push(n))
    }
    await eventually('all three arrive although none is acknowledged', () => held.length === 3)
    // Two whole round trips of somebody else: an early PUBACK would have come by now.
    const other = await connect(broker)
    await other.subscribeAsync('anything')
    expect(acknowledged).toEqual([])
    for (const release of held) release()
    await eventually('all are acknowledged', () => acknowledged.length === 3)
    expect(acknowledged).toEqual([1, 2, 3])
  })

  it('passes on what came and lets other topics through', async () => {
    const came: string[] = []
    const broker = await start((topic, payload, release) => {
      if (!topic.startsWith('site/')) return false
      came.push(`${topic} ${payload.toString()}`)
      release()
      return true
    })
    const sender = await connect(broker)
    await sender.publishAsync('other/topic', 'x', { qos: 1 })
    await sender.publishAsync('site/a', 'quality of service 1', { qos: 1 })
    await sender.publishAsync('site/b', 'quality of service 2', { qos: 2 })
    await sender.publishAsync('site/c', 'quality of service 0', { qos: 0 })
    await eventually('three messages', () => came.length === 3)
    expect(came).toEqual(['site/a quality of service 1', 'site/b quality of service 2', 'site/c quality of service 0'])
  })

  it('lets nobody else publish events', async () => {
    const broker = await start(() => false)
    const forger = await connect(broker)
    let closed = false
    forger.on('close', () => (closed = true))
    forger.publish(`${RESERVED}event/work.confirmed`, '{}', { qos: 1 })
    await eventually('the forger is disconnected', () => closed)
  })

  it('keeps the status for later subscribers, and nothing that a sender marked as retained', async () => {
    const broker = await start(() => false)
    const sender = await connect(broker)
    await sender.publishAsync('site/a', 'old reading', { qos: 1, retain: true })
    const status = topicOf('hollin-weir', 'analyzer.status', 'CFE/CFE-A')
    expect(status).toEqual({ topic: 'turbidrift/hollin-weir/status/CFE-A', retain: true })
    await broker.publish(status.topic, 'consistent', status.retain)
    const came: string[] = []
    const late = await connect(broker)
    late.on('message', (topic, payload) => came.push(`${topic} ${payload.toString()}`))
    await late.subscribeAsync('#', { qos: 1 })
    await broker.publish(topicOf('hollin-weir', 'work.confirmed', 'CFE/CFE-A').topic, 'yes', false)
    await eventually('the status and the event', () => came.length >= 2)
    expect(came).toEqual([
      'turbidrift/hollin-weir/status/CFE-A consistent',
      'turbidrift/hollin-weir/event/work.confirmed yes',
    ])
  })

  it('outlives a sender that leaves while its messages are held', async () => {
    const held: (() => void)[] = []
    let clients = 0
    const broker = await start(
      (_topic, _payload, release) => {
        held.push(release)
        return true
      },
      { clientsChanged: connected => (clients = connected) },
    )
    const sender = await connect(broker)
    sender.publish('site/a', '1', { qos: 1 })
    await eventually('the message is held', () => held.length === 1)
    sender.end(true)
    await eventually('the broker sees it leave', () => clients === 0)
    held[0]!()
    const next = await connect(broker)
    next.publish('site/a', '2', { qos: 1 })
    await eventually('the broker still serves', () => held.length === 2)
    held[1]!()
  })

  it('says so when its port is taken', async () => {
    const broker = await start(() => false)
    const second = await startEmbeddedBroker({ ...OPTIONS, port: broker.port })
    expect(second).toEqual({
      ok: false,
      problem: `the embedded broker cannot listen on 127.0.0.1:${broker.port}: another program listens there already: end it, or choose another port`,
    })
  })

  it('tells in words why it cut a client off, and serves the others', async () => {
    const told: string[] = []
    const broker = await start(() => false, { clientFailed: (problem, client) => told.push(`${client}: ${problem}`) })
    const babbler = createConnection(broker.port, '127.0.0.1')
    babbler.write('GET / HTTP/1.1\r\n\r\n')
    await once(babbler, 'close')
    const forger = await connect(broker, 'forger')
    forger.publish(`${RESERVED}event/work.confirmed`, '{}', { qos: 1 })
    await eventually('both are told', () => told.length >= 2)
    expect(told[0]).toMatch(/^undefined: /)
    expect(told[1]).toBe('forger: turbidrift/hollin-weir/# is published by the service only')
    const other = await connect(broker)
    await other.publishAsync('site/a', 'x', { qos: 1 })
  })

  it('serves a client that first tries MQTT 5: the sink goes on with 3.1.1', async () => {
    const broker = await start(() => false)
    const came: string[] = []
    const reader = await connect(broker)
    reader.on('message', (topic, payload) => came.push(`${topic} ${payload.toString()}`))
    await reader.subscribeAsync('#', { qos: 1 })
    const sink = mqttSink({
      broker: `mqtt://127.0.0.1:${broker.port}`,
      plant: 'other',
      clientId: 'sink',
      news: () => {},
    })
    open.push(sink.close)
    await sink.publish([
      { seq: 1, id: 'a', type: 'analyzer.finding', subject: 'P/P-A', body: '1' },
      { seq: 2, id: 'b', type: 'analyzer.status', subject: 'P/P-A', body: '2' },
    ])
    await eventually('both are delivered', () => came.length === 2)
    expect(came).toEqual(['turbidrift/other/event/analyzer.finding 1', 'turbidrift/other/status/P-A 2'])
  })
})

const OPTIONS: EmbeddedBrokerOptions = {
  port: 0,
  reserved: [RESERVED],
  onPublish: () => false,
  clientsChanged: () => {},
  clientFailed: () => {},
  failed: error => {
    throw error
  },
}

async function start(
  onPublish: EmbeddedBrokerOptions['onPublish'],
  more: Partial<EmbeddedBrokerOptions> = {},
): Promise<EmbeddedBroker> {
  const started = await startEmbeddedBroker({ ...OPTIONS, ...more, onPublish })
  if (!started.ok) throw new Error(started.problem)
  open.push(started.broker.close)
  return started.broker
}

async function connect(broker: EmbeddedBroker, clientId?: string): Promise<MqttClient> {
  const named = clientId === undefined ? {} : { clientId }
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${broker.port}`, { reconnectPeriod: 0, ...named })
  client.on('error', () => {})
  open.push(async () => {
    await client.endAsync(true)
  })
  return client
}
