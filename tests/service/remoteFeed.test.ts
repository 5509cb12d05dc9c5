import { afterEach, expect, it } from 'vitest'
import { brokerAt } from '../../src/adapters/connectionsFile.js'
import { createFeedHealth } from '../../src/service/feedHealth.js'
import { createLog } from '../../src/service/log.js'
import { connectRemoteFeed } from '../../src/service/remoteFeed.js'
import { startRawMqttBroker } from '../adapters/rawMqttBroker.js'
import { eventually } from '../support/eventually.js'

const open: (() => unknown)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

it('is not live while its subscription is refused, however long the connection holds', async () => {
  const { health, lines } = await connect('refused/#')
  await eventually('it is told', () => lines.join('').includes('does not grant the subscription'))
  expect(health.states(HOUR_MS)).toEqual({ site: 'disconnected' })
  expect(health.notLive(HOUR_MS)).toEqual(['site'])
})

it('is live once it is subscribed', async () => {
  const { broker, health } = await connect('site/#')
  await eventually('it is subscribed', () => broker.connections[0]?.subscriptions() === 1)
  await eventually('it is live', () => health.states(HOUR_MS).site === 'connected')
})

const HOUR_MS = 3_600_000

async function connect(filter: string) {
  const broker = await startRawMqttBroker(5)
  const health = createFeedHealth(['site'])
  const lines: string[] = []
  const feed = {
    name: 'site',
    topic: filter,
    filter,
    broker: { ...brokerAt(`mqtt://127.0.0.1:${broker.port}`), version: 5 as const },
    read: () => undefined,
  }
  open.push(
    broker.close,
    connectRemoteFeed(feed, {
      plant: 'p',
      log: createLog('info', line => line, { write: line => void lines.push(line) }),
      now: () => 0,
      health,
      isReturn: false,
      changed: () => {},
      take: () => false,
    }),
  )
  return { broker, health, lines }
}
