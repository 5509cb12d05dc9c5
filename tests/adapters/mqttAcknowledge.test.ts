import { createServer, type Server, type Socket } from 'node:net'
import { Aedes, type PublishPacket } from 'aedes'
import mqtt, { type MqttClient } from 'mqtt'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { acknowledgeLater, type Delivery } from '../../src/adapters/mqttAcknowledge.js'
import { eventually } from '../support/eventually.js'
import { startRawMqttBroker } from './rawMqttBroker.js'

/** Guards the one place that reaches inside `mqtt`: another release of it must pass here before it is used. */
describe('acknowledging later than receiving', () => {
  let aedes: Aedes
  let server: Server
  let sockets: Socket[]
  let client: MqttClient
  let deliveries: Delivery[]
  let acknowledged: string[]

  beforeEach(async () => {
    aedes = await Aedes.createBroker()
    sockets = []
    server = createServer(socket => {
      sockets.push(socket)
      aedes.handle(socket)
    })
    await new Promise<void>(resolve => {
      server.listen(0, '127.0.0.1', resolve)
    })
    acknowledged = []
    aedes.on('ack', packet => acknowledged.push((packet as PublishPacket).payload.toString()))
    deliveries = []
    client = mqtt.connect({
      host: '127.0.0.1',
      port: (server.address() as { port: number }).port,
      clientId: 'service',
      clean: false,
      reconnectPeriod: 50,
    })
    acknowledgeLater(client, delivery => deliveries.push(delivery))
    client.on('connect', packet => {
      if (!packet.sessionPresent) client.subscribe('site/#', { qos: 1 })
    })
    let subscribed = false
    aedes.on('subscribe', () => (subscribed = true))
    await eventually('the subscription stands', () => subscribed)
  })
  afterEach(async () => {
    await client.endAsync(true)
    server.close()
    await new Promise<void>(resolve => {
      aedes.close(resolve)
    })
  })

  it('hands over many messages before one is acknowledged, and acknowledges when told', async () => {
    await publish('1', '2', '3', '4', '5')
    await take(5)
    expect(came()).toEqual(['1', '2', '3', '4', '5'])
    expect(acknowledged).toEqual([])
    for (const delivery of deliveries) delivery.acknowledge()
    await eventually('the broker has all acknowledgements', () => acknowledged.length === 5)
    expect(acknowledged).toEqual(['1', '2', '3', '4', '5'])
  })

  it('hands over no more until it is asked for', async () => {
    await publish('1', '2')
    await eventually('the first arrives', () => deliveries.length === 1)
    await client.publishAsync('other', 'a round trip', { qos: 0 })
    expect(came()).toEqual(['1'])
    await take(2)
    expect(came()).toEqual(['1', '2'])
  })

  it('never sends an acknowledgement over a later connection, and gets the message again', async () => {
    await publish('1', '2')
    await take(2)
    deliveries[0]!.acknowledge()
    await eventually('the first acknowledgement is in', () => acknowledged.length === 1)
    for (const socket of sockets) socket.destroy()
    await eventually('the second comes again', () => {
      for (const delivery of deliveries.slice(2)) delivery.next()
      return deliveries.length === 3
    })
    deliveries[1]!.acknowledge()
    await publish('3')
    await take(4)
    expect(came()).toEqual(['1', '2', '2', '3'])
    expect(acknowledged).toEqual(['1'])
    deliveries[2]!.acknowledge()
    deliveries[3]!.acknowledge()
    await eventually('both acknowledgements are in', () => acknowledged.length === 3)
    expect(acknowledged).toEqual(['1', '2', '3'])
  })

  function came(): string[] {
    return deliveries.map(delivery => delivery.packet.payload.toString())
  }

  /** Asks for the next message until so many have come. */
  async function take(count: number): Promise<void> {
    const asked = new Set<Delivery>()
    await eventually(`${count} messages arrive`, () => {
      for (const delivery of deliveries) {
        if (asked.has(delivery)) continue
        asked.add(delivery)
        delivery.next()
      }
      return deliveries.length === count
    })
  }

  async function publish(...payloads: string[]): Promise<void> {
    for (const payload of payloads) {
      await new Promise<void>((resolve, reject) => {
        aedes.publish(
          { cmd: 'publish', topic: 'site/a', payload, qos: 1, retain: false, dup: false },
          (error?: Error | null) => {
            if (error) reject(error)
            else resolve()
          },
        )
      })
    }
  }
})

describe.each([4, 5] as const)('packet numbers of protocol version %s', version => {
  let broker: Awaited<ReturnType<typeof startRawMqttBroker>>
  let client: MqttClient
  let deliveries: Delivery[]

  beforeEach(async () => {
    broker = await startRawMqttBroker(version)
    deliveries = []
    client = mqtt.connect({
      host: '127.0.0.1',
      port: broker.port,
      clientId: 'service',
      clean: false,
      protocolVersion: version,
      reconnectPeriod: 20,
      resubscribe: false,
    })
    acknowledgeLater(client, delivery => {
      deliveries.push(delivery)
      delivery.next()
    })
    client.on('connect', () => client.subscribe('site/#', { qos: 1 }))
    await subscribed(1)
  })
  afterEach(async () => {
    await client.endAsync(true)
    broker.close()
  })

  it('acknowledges each message by its own number, in the order told, and none by itself', async () => {
    const [connection] = broker.connections
    for (const id of [7, 300, 65_535, 1]) connection!.send(id, String(id))
    await eventually('all come', () => deliveries.length === 4)
    await roundTrip(0)
    expect(connection!.acknowledged).toEqual([])
    for (const delivery of deliveries) delivery.acknowledge()
    await eventually('all are acknowledged', () => connection!.acknowledged.length === 4)
    expect(connection!.acknowledged).toEqual([7, 300, 65_535, 1])
  })

  it('is not misled by a number that the broker uses again after a reconnect', async () => {
    broker.connections[0]!.send(1, 'before')
    await eventually('it comes', () => deliveries.length === 1)
    broker.connections[0]!.drop()
    await subscribed(2)
    const second = broker.connections[1]!
    second.send(1, 'another message')
    await eventually('the other comes', () => deliveries.length === 2)
    deliveries[0]!.acknowledge()
    await roundTrip(1)
    expect(second.acknowledged).toEqual([])
    deliveries[1]!.acknowledge()
    await eventually('the other is acknowledged', () => second.acknowledged.length === 1)
    second.drop()
    await subscribed(3)
    const third = broker.connections[2]!
    third.send(1, 'a third')
    await eventually('the third comes', () => deliveries.length === 3)
    for (const delivery of deliveries.slice(0, 2)) delivery.acknowledge()
    await roundTrip(2)
    expect(third.acknowledged).toEqual([])
  })

  it('sends nothing for what was told safe while there is no connection', async () => {
    broker.connections[0]!.send(5, 'a')
    await eventually('it comes', () => deliveries.length === 1)
    let closed = false
    client.once('close', () => {
      closed = true
      deliveries[0]!.acknowledge()
    })
    broker.connections[0]!.drop()
    await eventually('the connection is closed', () => closed)
    await subscribed(2)
    await roundTrip(1)
    expect(broker.connections.map(({ acknowledged }) => acknowledged)).toEqual([[], []])
  })

  it('acknowledges a whole batch of 500 that becomes safe at once', async () => {
    const ids = Array.from({ length: 500 }, (_, i) => i + 1)
    for (const id of ids) broker.connections[0]!.send(id, String(id))
    await eventually('all come', () => deliveries.length === 500)
    for (const delivery of deliveries) delivery.acknowledge()
    await eventually('all are acknowledged', () => broker.connections[0]!.acknowledged.length === 500)
    expect(broker.connections[0]!.acknowledged).toEqual(ids)
    await roundTrip(0)
  })

  async function subscribed(connections: number): Promise<void> {
    await eventually('the subscription stands', () => broker.connections[connections - 1]?.subscriptions() === 1)
  }

  /** What was sent before it has arrived. */
  async function roundTrip(connection: number): Promise<void> {
    const before = broker.connections[connection]!.subscriptions()
    await client.subscribeAsync(`round/${before}`, { qos: 1 })
    expect(broker.connections[connection]!.subscriptions()).toBe(before + 1)
  }
})
