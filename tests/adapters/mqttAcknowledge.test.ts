import { createServer, type Server, type Socket } from 'node:net'
import { Aedes, type PublishPacket } from 'aedes'
import mqtt, { type MqttClient } from 'mqtt'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { acknowledgeLater, type Delivery } from '../../src/adapters/mqttAcknowledge.js'
import { eventually } from '../support/eventually.js'

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
