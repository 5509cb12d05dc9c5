import { setTimeout as wait } from 'node:timers/promises'
import mqtt, { type MqttClient } from 'mqtt'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import { brokerAt, type MqttBroker } from '../../src/adapters/connectionsFile.js'
import type { Delivery } from '../../src/adapters/mqttAcknowledge.js'
import type { ConnectionNews } from '../../src/adapters/mqttConnection.js'
import { connectMqttFeed } from '../../src/adapters/mqttFeed.js'
import { mqttSink } from '../../src/adapters/mqttSink.js'
import { secretOf } from '../../src/adapters/secret.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, type Mosquitto, startMosquitto } from '../support/mosquitto.js'

const open: (() => Promise<unknown>)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

describe.skipIf(!hasMosquitto())('MQTT 5 feed on Mosquitto', () => {
  let broker: Mosquitto
  beforeAll(async () => {
    broker = await startMosquitto()
  })
  afterAll(() => broker.stop())

  it('is sent no more than it can hold while nothing is acknowledged, and all of it in the end', async () => {
    const feed = subscribe(broker, 'limit', 7)
    await eventually('it is connected', () => feed.connections.length === 1)
    const sender = await connect(broker)
    for (let n = 1; n <= 50; n++) await sender.publishAsync('limit/a', String(n), { qos: 1 })
    await eventually('seven come', () => feed.came().length === 7)
    // A message of another client makes the whole way through the broker meanwhile.
    const other = await connect(broker)
    await other.publishAsync('limit/other', 'x', { qos: 1 })
    expect(feed.came()).toHaveLength(7)
    feed.acknowledgeAll()
    await eventually('the rest comes', () => {
      feed.acknowledgeAll()
      return feed.came().length === 51
    })
    expect(feed.came().slice(0, 50)).toEqual(numbers(50))
  })

  it('gets again, in order, what was not acknowledged when the broker was killed', async () => {
    const feed = subscribe(broker, 'again', 100)
    await eventually('it is connected', () => feed.connections.length === 1)
    const sender = await connect(broker)
    for (let n = 1; n <= 20; n++) await sender.publishAsync('again/a', String(n), { qos: 1 })
    await eventually('all come', () => feed.came().length === 20)
    // Mosquitto's snapshot is taken every two seconds here; what came after the last one is lost with it.
    await wait(4_500)
    await broker.killAndRestart()
    await eventually('all come again', () => feed.came().length === 40)
    expect(feed.came().slice(20)).toEqual(numbers(20))
    expect(feed.connections.at(-1)).toEqual({ state: 'connected', sessionPresent: true })
    feed.acknowledgeAll()
    await sender.endAsync(true)
  })

  it('keeps what came while it was away', async () => {
    const first = subscribe(broker, 'away', 100)
    await eventually('it is connected', () => first.connections.length === 1)
    await first.close()
    const sender = await connect(broker)
    for (let n = 1; n <= 20; n++) await sender.publishAsync('away/a', String(n), { qos: 1 })
    const second = subscribe(broker, 'away', 100)
    await eventually('all come', () => second.came().length === 20)
    expect(second.came()).toEqual(numbers(20))
    second.acknowledgeAll()
  })

  it('lets the sink finish after the broker was away', async () => {
    const came: string[] = []
    const sink = mqttSink({ broker: broker.url, plant: 'p', clientId: 'sink', news: () => {} })
    open.push(sink.close)
    await sink.publish([row(1)])
    const publishing = Promise.all([broker.killAndRestart(), sink.publish([row(2)])])
    await publishing
    const reader = await connect(broker)
    reader.on('message', topic => came.push(topic))
    await reader.subscribeAsync('turbidrift/p/status/#', { qos: 1 })
    await eventually('the status is retained', () => came.length > 0)
    expect(came).toEqual(['turbidrift/p/status/A'])
  })
})

describe.skipIf(!hasMosquitto()).each([5, '3.1.1'] as const)('deploy/mosquitto.conf, MQTT %s', version => {
  it('has room for 20,000 messages while the service is away, and for two batches under way', async () => {
    const broker = await startMosquitto()
    open.push(() => broker.stop())
    const at = { version }
    const first = subscribe(broker, 'long', 1_000, at)
    await eventually('it is connected', () => first.connections.length === 1)
    await first.close()
    const sender = await connect(broker)
    const all = numbers(20_000)
    for (let n = 0; n < all.length; n += 500) {
      await Promise.all(all.slice(n, n + 500).map(number => sender.publishAsync('long/a', number, { qos: 1 })))
    }
    const second = subscribe(broker, 'long', 1_000, at)
    await eventually('two batches come before one is acknowledged', () => second.came().length >= 1_000)
    const other = await connect(broker)
    await other.publishAsync('elsewhere', 'a round trip', { qos: 1 })
    expect(second.came()).toHaveLength(1_000)
    await eventually('all come', () => {
      second.acknowledgeAll()
      return second.count() >= all.length
    })
    second.acknowledgeAll()
    expect(second.came()).toEqual(all)
  })
})

describe.skipIf(!hasMosquitto())('deploy/mosquitto.conf with deploy/mosquitto-access', () => {
  let broker: Mosquitto
  const users = { turbidrift: 'service-password', gateway: 'gateway-password', dashboard: 'dashboard-password' }
  beforeAll(async () => {
    broker = await startMosquitto({ users })
  })
  afterAll(() => broker.stop())

  it('lets nobody in without a password, and tells the feed why', async () => {
    const news: ConnectionNews[] = []
    const close = connectMqttFeed({
      broker: broker.url,
      clientId: 'nobody',
      filter: 'site/#',
      receiveMaximum: 10,
      deliver: () => {},
      news: each => news.push(each),
    })
    open.push(close)
    await eventually('it is refused', () => news.some(each => each.state === 'refused'))
    expect(news).toContainEqual({
      state: 'refused',
      problem: 'the broker lets nobody in without user and password: state username and password',
    })
  })

  it('lets a gateway send readings and nothing else, and only the service publish events', async () => {
    const heard: string[] = []
    const dashboard = await login('dashboard')
    dashboard.on('message', topic => heard.push(topic))
    await dashboard.subscribeAsync('#', { qos: 1 })
    const feed = subscribe(broker, 'site', 100, {
      username: 'turbidrift',
      password: secretOf(users.turbidrift),
    })
    await eventually('the service is connected', () => feed.connections.length === 1)
    const gateway = await login('gateway')
    await gateway.publishAsync('site/a', 'reading', { qos: 1 })
    // Reason 135, not authorised: MQTT 5.0 §3.4.2.1.
    await expect(gateway.publishAsync('records/a', 'work', { qos: 1 })).rejects.toMatchObject({ code: 135 })
    await expect(gateway.publishAsync('turbidrift/p/event/x', 'y', { qos: 1 })).rejects.toMatchObject({ code: 135 })
    const service = await login('turbidrift')
    await service.publishAsync('turbidrift/p/event/x', 'y', { qos: 1 })
    await eventually('the event is heard', () => heard.length > 0)
    expect(heard).toEqual(['turbidrift/p/event/x'])
    await eventually('the reading has come', () => feed.came().length === 1)
    feed.acknowledgeAll()
  })

  function login(username: keyof typeof users): Promise<MqttClient> {
    return connect(broker, { username, password: users[username], protocolVersion: 5 })
  }
})

function subscribe(broker: Mosquitto, name: string, receiveMaximum: number, more: Partial<MqttBroker> = {}) {
  const deliveries: Delivery[] = []
  const acknowledged = new Set<Delivery>()
  const connections: ConnectionNews[] = []
  const close = connectMqttFeed({
    broker: { ...brokerAt(broker.url), ...more },
    clientId: `feed-${name}`,
    filter: `${name}/#`,
    receiveMaximum,
    deliver: delivery => {
      deliveries.push(delivery)
      delivery.next()
    },
    news: news => {
      if (news.state === 'connected') connections.push(news)
    },
  })
  open.push(close)
  return {
    connections,
    count: () => deliveries.length,
    came: () => deliveries.map(({ packet }) => packet.payload.toString()),
    acknowledgeAll: () => {
      for (const delivery of deliveries) {
        if (!acknowledged.has(delivery)) delivery.acknowledge()
        acknowledged.add(delivery)
      }
    },
    close,
  }
}

async function connect(broker: Mosquitto, options: mqtt.IClientOptions = {}): Promise<MqttClient> {
  const client = await mqtt.connectAsync(broker.url, { reconnectPeriod: 100, ...options })
  client.on('error', () => {})
  open.push(() => client.endAsync(true))
  return client
}

function row(n: number) {
  return { seq: n, id: `e${n}`, type: 'analyzer.status', subject: 'P/A', body: String(n) }
}

function numbers(count: number): string[] {
  return Array.from({ length: count }, (_, i) => String(i + 1))
}
