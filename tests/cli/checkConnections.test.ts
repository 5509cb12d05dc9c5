import { describe, expect, it } from 'vitest'
import { REGISTER, run, scratch } from './support.js'

const { put } = scratch()
const CONNECTIONS = put('connections.yaml', 'mqtt: { site: { url: "mqtt://broker.example", publishEvents: true } }')

function register(feed: string): string {
  return put('register.yaml', `${REGISTER}\nfeeds:\n  - { name: site, type: mqtt, ${feed} }\n`)
}

describe('check with connections', () => {
  it('finds nothing wrong with a feed whose broker is there', async () => {
    const ran = await run([
      'check',
      '--register',
      register('topic: site/#, connection: site'),
      '--connections',
      CONNECTIONS,
    ])
    expect(ran).toMatchObject({ code: 0, told: '' })
  })

  it('tells what serve would refuse: its own events, a broker that is none, connections that cannot be used', async () => {
    const own = await run([
      'check',
      '--register',
      register('topic: "#", connection: site'),
      '--connections',
      CONNECTIONS,
    ])
    expect(own.code).toBe(1)
    expect(own.told).toContain('feed site of hollin-weir (#) can match turbidrift/hollin-weir/#')
    const none = await run([
      'check',
      '--register',
      register('topic: site/#, connection: west'),
      '--connections',
      CONNECTIONS,
    ])
    expect(none.code).toBe(1)
    expect(none.told).toContain('connection west must be one of the brokers in the connections: site')
    const bad = put('bad.yaml', 'mqtt: { site: { url: "mqtt://broker.example", tls: {} } }')
    const unusable = await run([
      'check',
      '--register',
      register('topic: site/#, connection: site'),
      '--connections',
      bad,
    ])
    expect(unusable.code).toBe(1)
    expect(unusable.told).toContain('mqtt.site: tls is stated')
  })

  it('tells of the register alone what one register is enough for', async () => {
    const ran = await run(['check', '--register', register('topic: "$share/a/site/#", connection: site')])
    expect(ran.code).toBe(1)
    expect(ran.told).toContain('must be no shared subscription')
  })
})
