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

function row(seq: number) {
  return { seq, id: String(seq), type: 'analyzer.finding', subject: 'P/A', body: '{}' }
}
