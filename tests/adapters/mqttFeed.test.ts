import { afterEach, expect, it } from 'vitest'
import { brokerAt } from '../../src/adapters/connectionsFile.js'
import type { ConnectionNews } from '../../src/adapters/mqttConnection.js'
import { connectMqttFeed } from '../../src/adapters/mqttFeed.js'
import { eventually } from '../support/eventually.js'
import { startRawMqttBroker } from './rawMqttBroker.js'

const open: (() => unknown)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

it.each([4, 5] as const)('protocol version %s: tells a subscription that is not granted', async version => {
  const { news } = await feed(version, 'refused/#')
  await eventually('it is told', () => news.length === 2)
  expect(news).toEqual([
    { state: 'connected', sessionPresent: false },
    {
      state: 'refused',
      problem:
        'the broker does not grant the subscription to refused/#: give clients without user and password the right to read it there',
    },
  ])
})

it('tells what a broker of MQTT 5 says when it ends a connection, and connects again', async () => {
  const { broker, news } = await feed(5, 'site/#')
  await eventually('it is subscribed', () => broker.connections[0]?.subscriptions() === 1)
  broker.connections[0]!.dismiss(142)
  await eventually('it is back', () => broker.connections[1]?.subscriptions() === 1)
  expect(news.map(each => (each.state === 'refused' ? each.problem : each.state))).toEqual([
    'connected',
    'another client took over the client id feed: end the second service of this plant, or the other client that uses this id',
    'disconnected',
    'connected',
  ])
})

async function feed(version: 4 | 5, filter: string) {
  const broker = await startRawMqttBroker(version)
  const news: ConnectionNews[] = []
  open.push(
    broker.close,
    connectMqttFeed({
      broker: { ...brokerAt(`mqtt://127.0.0.1:${broker.port}`), version: version === 5 ? 5 : '3.1.1' },
      clientId: 'feed',
      filter,
      receiveMaximum: 10,
      deliver: ({ next }) => next(),
      news: each => news.push(each),
    }),
  )
  return { broker, news }
}
