import { Buffer } from 'node:buffer'
import { once } from 'node:events'
import { createServer, type Socket } from 'node:net'
import { afterEach, it } from 'vitest'
import { brokerAt } from '../../src/adapters/connectionsFile.js'
import { mqttSink } from '../../src/adapters/mqttSink.js'
import { eventually } from '../support/eventually.js'
import { startRawMqttBroker } from './rawMqttBroker.js'

const open: (() => unknown)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

// MQTT 5.0 §4.9: a client with more under way than the receive maximum of the broker is sent away.
it('has no more events under way than the broker says it takes', async () => {
  const broker = await startRawMqttBroker(5, 20)
  open.push(broker.close)
  const sink = mqttSink({
    broker: { ...brokerAt(`mqtt://127.0.0.1:${broker.port}`), version: 5 },
    plant: 'p',
    clientId: 'sink',
    news: () => {},
  })
  open.push(sink.close)
  const publishing = sink.publish(Array.from({ length: 50 }, (_, n) => row(n)))
  for (const expected of [20, 20, 10]) {
    await eventually('as many are out as may be', () => broker.connections[0]?.underWay() === expected)
    broker.connections[0]!.acknowledge()
  }
  await publishing
})

// The broker behind an address is replaced by one that speaks 3.1.1 only.
it('publishes by the connection it has now, whatever version that is of', async () => {
  let version: 4 | 5 = 5
  const sockets: Socket[] = []
  const server = createServer(socket => {
    sockets.push(socket)
    socket.on('error', () => {})
    socket.on('data', bytes => {
      const type = bytes[0]! >> 4
      if (type === 1) socket.write(connack(version, bytes[8]!))
      // PUBACK of the packet number that follows the topic; the rows here are short.
      if (type === 3) socket.write(Buffer.from([0x40, 2, ...bytes.subarray(4 + bytes.readUInt16BE(2)).subarray(0, 2)]))
    })
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  open.push(() => {
    server.close()
    for (const socket of sockets) socket.destroy()
  })
  let connections = 0
  const sink = mqttSink({
    broker: brokerAt(`mqtt://127.0.0.1:${(server.address() as { port: number }).port}`),
    plant: 'p',
    clientId: 'sink',
    news: ({ state }) => {
      if (state === 'connected') connections++
    },
  })
  open.push(sink.close)
  await sink.publish([row(1)])
  version = 4
  for (const socket of sockets) socket.destroy()
  await eventually('it is connected again', () => connections === 2)
  await sink.publish([row(2)])
})

/** Accepted, or to a client of MQTT 5 that its version is not supported: MQTT 5.0 §3.2.2.2, MQTT 3.1.1 §3.2. */
function connack(version: 4 | 5, asked: number): Buffer {
  if (asked === 5) return Buffer.from([0x20, 3, 0, version === 5 ? 0 : 132, 0])
  return Buffer.from([0x20, 2, 0, 0])
}

function row(seq: number) {
  return { seq, id: String(seq), type: 'analyzer.finding', subject: 'P/A', body: '{}' }
}
