import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import mqtt, { type MqttClient } from 'mqtt'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { parseConnections } from '../../src/adapters/connectionsFile.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import { exportJournal } from '../../src/service/exportJournal.js'
import { createLog } from '../../src/service/log.js'
import { type Service, startService } from '../../src/service/service.js'
import type { ServiceOptions } from '../../src/service/serviceOptions.js'
import { eventually } from '../support/eventually.js'
import { fakeCore, fakeRegisterMessage, reading } from './fakeCore.js'

let folder: string
let open: (() => Promise<unknown>)[]
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'turbidrift-plants-'))
  open = []
})
afterEach(async () => {
  for (const close of open.reverse()) await close()
  rmSync(folder, { recursive: true, force: true })
})

describe('several plants in one process', () => {
  it('keep what comes for each in a store of its own, behind one broker', async () => {
    const service = await started(['north', 'south'])
    const heard = await listen(service)
    const sender = await connect(service)
    for (let n = 0; n < 40; n++) {
      await sender.publishAsync('north/in', reading(n), { qos: 1 })
      if (n < 20) await sender.publishAsync('south/in', reading(n), { qos: 1 })
    }
    expect(readings(service)).toEqual({ north: 40, south: 20 })
    await eventually('all events are out', () => service.drained() && heard.length === 15)
    expect(countBy(heard)).toEqual({
      'turbidrift/north/event/analyzer.finding': 10,
      'turbidrift/south/event/analyzer.finding': 5,
    })
    expect(readFileSync(join(folder, 'events.ndjson'), 'utf8').split('\n')).toHaveLength(16)
    await service.stop()
    expect(await service.ended).toBe(0)
    for (const plant of ['north', 'south']) expect(existsSync(join(folder, 'stores', `${plant}.db`))).toBe(true)
  })

  it('go on from their own journals after a restart', async () => {
    for (const part of [0, 1]) {
      const service = await started(['north', 'south'])
      const sender = await connect(service)
      await sender.publishAsync('south/in', reading(part), { qos: 1 })
      await service.stop()
      await service.ended
    }
    const again = await started(['south', 'north'])
    expect(readings(again)).toEqual({ south: 2, north: 0 })
  })

  it('have a drop folder each', async () => {
    mkdirSync(join(folder, 'drop', 'south'), { recursive: true })
    writeFileSync(join(folder, 'drop', 'south', 'a.csv'), 'time,A\n2026-04-01T00:00:00Z,0.1\n')
    const service = await started(['north', 'south'], { dropFolder: join(folder, 'drop') })
    await eventually('the file is put away', () => existsSync(join(folder, 'drop', 'south', 'done', 'a.csv')))
    expect(readings(service)).toEqual({ north: 0, south: 1 })
  })

  it('let nobody publish in the name of any of them', async () => {
    const service = await started(['north', 'south'])
    const forger = await connect(service)
    let closed = false
    forger.on('close', () => (closed = true))
    forger.publish('turbidrift/south/event/work.confirmed', '{}', { qos: 1 })
    await eventually('the forger is disconnected', () => closed)
  })

  it('end together, with code 1, when one loses its store; the others save what they have', async () => {
    const service = await started(['north', 'south'])
    const sender = await connect(service)
    await sender.publishAsync('south/in', reading(1), { qos: 1 })
    sender.publish('north/in', '{"kind":"crash"}', { qos: 1 })
    expect(await service.ended).toBe(1)
    const again = await started(['south'])
    expect(readings(again)).toEqual({ south: 1 })
  })

  it('start all or none, and every problem of every plant is told', async () => {
    writeFileSync(join(folder, 'one.yaml'), 'plant: [1]')
    writeFileSync(join(folder, 'two.yaml'), 'plant: two\npoints: { P: { analyzers: { A: { unit: NTU } } } }')
    register('three', 'north/#')
    register('north', 'north/in')
    const paths = ['one', 'two', 'three', 'north', 'north'].map(name => join(folder, `${name}.yaml`))
    const service = await startService(options(paths), parts())
    if (service.ok) throw new Error('it started')
    expect(service.problems.map(problem => problem.replaceAll(`${folder}/`, ''))).toEqual([
      expect.stringContaining('one.yaml:1:1 plant: '),
      expect.stringContaining('one.yaml:1:1 points: '),
      'north.yaml: the plant north has a register already; one plant has one register',
      expect.stringContaining('the register of two must declare its feeds'),
      expect.stringContaining('feed in of three (north/#) and feed in of north (north/in) can match the same topic'),
    ])
    expect(existsSync(join(folder, 'stores'))).toBe(false)
  })

  it('do not start on connections that can never be used', async () => {
    const text = `mqtt: { site: { url: mqtt://broker.example, tls: {} } }
webhooks: { desk: { url: http://hooks.example, secrets: [{ env: KEY }] } }`
    const read = parseConnections(text, { name: 'connections.yaml', folder, environment: { KEY: 'not-a-key' } })
    if (!read.ok) throw new Error(read.problems.join())
    const service = await startService({ ...options([register('north', 'a')]), connections: read.connections }, parts())
    expect(!service.ok && service.problems).toEqual([
      expect.stringContaining('mqtt.site: tls is stated'),
      expect.stringContaining('webhooks.desk: url must begin with https://'),
      expect.stringContaining('webhooks.desk: secrets.0 must be whsec_'),
    ])
  })

  it('leave no store open where one of them cannot be opened', async () => {
    mkdirSync(join(folder, 'stores', 'south.db'), { recursive: true })
    const service = await startService(options(['north', 'south'].map(name => register(name, `${name}/in`))), parts())
    expect(!service.ok && service.problems.join()).toContain('south.db cannot be opened')
    const north = await started(['north'], { storePath: join(folder, 'stores', 'north.db') })
    expect(readings(north)).toEqual({ north: 0 })
  })
})

function parts() {
  return {
    core: fakeCore,
    registerMessage: fakeRegisterMessage,
    softwareVersion: '0.1.0',
    log: createLog('silent'),
    stdout: new PassThrough(),
    now: () => Date.parse('2026-05-01T00:00:00Z'),
  }
}

function options(registerPaths: readonly string[]): ServiceOptions {
  return {
    registerPaths,
    storePath: registerPaths.length > 1 ? join(folder, 'stores') : join(folder, 'stores', 'south.db'),
    ticks: 'event',
    brokerPort: 0,
    eventsPath: join(folder, 'events.ndjson'),
  }
}

async function started(plants: readonly string[], more: Partial<ServiceOptions> = {}): Promise<Service> {
  const registers = plants.map(plant => register(plant, `${plant}/in`))
  const service = await startService({ ...options(registers), ...more }, parts())
  if (!service.ok) throw new Error(service.problems.join())
  open.push(service.service.stop)
  return service.service
}

/** @returns where it was written */
function register(plant: string, topic: string): string {
  const path = join(folder, `${plant}.yaml`)
  writeFileSync(
    path,
    `plant: ${plant}
points: { P: { analyzers: { A: { unit: NTU } } } }
feeds: [{ name: in, type: mqtt, topic: ${topic} }]
`,
  )
  return path
}

async function connect(service: Service): Promise<MqttClient> {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${service.brokerPort!}`, { reconnectPeriod: 0 })
  client.on('error', () => {})
  open.push(() => client.endAsync(true))
  return client
}

/** Topics of events, as they come. */
async function listen(service: Service): Promise<string[]> {
  const heard: string[] = []
  const client = await connect(service)
  client.on('message', topic => heard.push(topic))
  await client.subscribeAsync('turbidrift/+/event/#', { qos: 1 })
  return heard
}

function readings(service: Service): Record<string, number> {
  return Object.fromEntries(
    service.plants.map(({ plant, store }) => {
      const inputs = [...exportJournal(store)].map(line => JSON.parse(line) as RecordedInput)
      return [plant, inputs.filter(({ message }) => (message as { kind?: string }).kind === 'reading').length]
    }),
  )
}

function countBy(texts: readonly string[]): Record<string, number> {
  const counts: Record<string, number> = {}
  for (const text of texts) counts[text] = (counts[text] ?? 0) + 1
  return counts
}
