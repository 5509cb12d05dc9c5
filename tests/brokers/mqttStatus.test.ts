import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt, { type MqttClient } from 'mqtt'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import { type ServiceStatus, serviceStatusSchema } from '../../src/model/serviceStatus.js'
import { build, SAMPLES } from '../faults/built.js'
import { type ServeProcess, startServe } from '../faults/processes.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, type Mosquitto, startMosquitto } from '../support/mosquitto.js'

const TOPIC = 'turbidrift/hollin-weir/service'

describe.skipIf(!hasMosquitto()).each(['5', '"3.1.1"'])('status of the service on Mosquitto, MQTT %s', version => {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-status-'))
  const open: (() => Promise<unknown>)[] = []
  let broker: Mosquitto
  beforeAll(async () => {
    build()
    broker = await startMosquitto()
    const register = readFileSync(join(SAMPLES, 'register.yaml'), 'utf8')
    const feed = '{ name: site, type: mqtt, connection: scada, topic: "site/#" }'
    writeFileSync(join(folder, 'register.yaml'), `${register}\nfeeds:\n  - ${feed}\n`)
    writeFileSync(
      join(folder, 'connections.yaml'),
      `mqtt: { scada: { url: "${broker.url}", version: ${version}, publishEvents: true } }`,
    )
  })
  afterEach(async () => {
    for (const close of open.splice(0).reverse()) await close()
  })
  afterAll(async () => {
    await broker.stop()
    rmSync(folder, { recursive: true, force: true })
  })

  it('is there for who comes later, and says the end where it is told to end', async () => {
    const service = await serve()
    const heard = await watch()
    await eventually('the feed is connected', () => heard.at(-1)?.state === 'online' && feedOf(heard.at(-1)) !== 'down')
    expect(heard.at(-1)).toMatchObject({ plant: 'hollin-weir', analyzers: 15, assessed: 0, eventsWaiting: 0 })
    expect(await service.kill('SIGTERM')).toBe(0)
    await eventually('it says that it has ended', () => heard.at(-1)?.state === 'offline')
    expect(heard.at(-1)).toMatchObject({ state: 'offline', because: 'ended' })
    expect(heard.filter(({ state }) => state === 'offline')).toHaveLength(1)
    const late = await watch()
    await eventually('the end is retained', () => late.length > 0)
    expect(late[0]).toMatchObject({ state: 'offline', because: 'ended' })
  })

  it('is said by the broker where the service is killed, and taken back by the next start', async () => {
    const first = await serve()
    const heard = await watch()
    await eventually('it is online', () => heard.at(-1)?.state === 'online')
    await first.kill('SIGKILL')
    await eventually('the broker says it', () => heard.at(-1)?.state === 'offline')
    expect(heard.at(-1)).toMatchObject({ state: 'offline', because: 'lost' })
    await serve()
    await eventually('it is online again', () => heard.at(-1)?.state === 'online')
  })

  it('comes back with a broker that comes back', async () => {
    await serve()
    const before = await watch()
    await eventually('it is online', () => before.at(-1)?.state === 'online')
    await broker.killAndRestart()
    const after = await watch()
    await eventually('feed and status are there again', () => feedOf(after.at(-1)) === 'up')
  })

  async function serve(): Promise<ServeProcess> {
    const [register, connections, store] = ['register.yaml', 'connections.yaml', 'plant.db'].map(name =>
      join(folder, name),
    )
    const service = await startServe(['--register', register!, '--connections', connections!, '--store', store!])
    open.push(() => service.kill('SIGKILL'))
    return service
  }

  /** Every status from the retained one on. */
  async function watch(): Promise<ServiceStatus[]> {
    const heard: ServiceStatus[] = []
    const client: MqttClient = await mqtt.connectAsync(broker.url, { reconnectPeriod: 100 })
    client.on('error', () => {})
    client.on('message', (_topic, body) => heard.push(serviceStatusSchema.parse(JSON.parse(body.toString()))))
    open.push(() => client.endAsync(true))
    await client.subscribeAsync(TOPIC, { qos: 1 })
    return heard
  }
})

it('is told by the embedded broker too, which ends with the service', async () => {
  build()
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-status-'))
  const register = join(SAMPLES, 'register.yaml')
  const service = await startServe(['--register', register, '--store', join(folder, 'plant.db'), '--port', '0'])
  try {
    const heard: ServiceStatus[] = []
    const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${service.port!}`, { reconnectPeriod: 0 })
    client.on('message', (_topic, body) => heard.push(serviceStatusSchema.parse(JSON.parse(body.toString()))))
    await client.subscribeAsync(TOPIC, { qos: 1 })
    await eventually('it is online', () => heard.at(-1)?.state === 'online')
    expect(heard.at(-1)).toMatchObject({ analyzers: 15, feeds: {} })
    expect(await service.kill('SIGTERM')).toBe(0)
    await eventually('it says that it has ended', () => heard.at(-1)?.state === 'offline')
    expect(heard.at(-1)).toMatchObject({ because: 'ended' })
    await client.endAsync(true)
  } finally {
    await service.kill('SIGKILL')
    rmSync(folder, { recursive: true, force: true })
  }
})

function feedOf(status: ServiceStatus | undefined): 'up' | 'down' {
  return status?.state === 'online' && status.feeds.site !== 'disconnected' ? 'up' : 'down'
}
