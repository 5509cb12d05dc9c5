import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import mqtt, { type MqttClient } from 'mqtt'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { exportJournal } from '../../src/service/exportJournal.js'
import { createLog } from '../../src/service/log.js'
import { type Service, startService } from '../../src/service/service.js'
import type { ServiceOptions } from '../../src/service/serviceOptions.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import { eventually } from '../support/eventually.js'
import { fakeCore, fakeRegisterMessage, reading } from './fakeCore.js'

let folder: string
let open: (() => Promise<unknown>)[]
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'turbidrift-service-'))
  open = []
  writeFileSync(join(folder, 'register.yaml'), register(''))
})
afterEach(async () => {
  for (const close of open.reverse()) await close()
  rmSync(folder, { recursive: true, force: true })
})

describe('service', () => {
  it('has on disk what a sender saw acknowledged, and publishes what follows from it', async () => {
    const service = await start()
    const heard = await listen(service)
    const sender = await connect(service)
    await Promise.all([...Array(600).keys()].map(n => sender.publishAsync('turbidrift/in/x', reading(n), { qos: 1 })))
    expect(kinds(service).filter(kind => kind === 'reading')).toHaveLength(600)
    await eventually('all events are out', () => service.drained() && heard.length === 150)
    expect(events()).toHaveLength(150)
    expect(heard).toEqual(events().map(line => `turbidrift/plant/event/analyzer.finding ${line}`))
  })

  it('goes on after a restart as if there had been none', async () => {
    let service = await start()
    for (const part of [0, 1, 2]) {
      const sender = await connect(service)
      for (let n = part * 20; n < part * 20 + 25; n++)
        await sender.publishAsync('turbidrift/in/x', reading(n), { qos: 1 })
      await eventually('all events are out', () => service.drained())
      await service.stop()
      expect(await service.ended).toBe(0)
      service = await start()
    }
    const sums = events().map(line => (JSON.parse(line) as { data: { sum: number } }).data.sum)
    expect(sums).toEqual([...Array(17).keys()].map(minute => sumTo(minute * 4)))
    expect(new Set(events()).size).toBe(17)
    expect(kinds(service).filter(kind => kind === 'register')).toHaveLength(1)
  })

  it('says in words why events cannot be written', async () => {
    await expect(start({ eventsPath: folder })).rejects.toThrow(
      `events cannot be written: ${folder}: is a folder, not a file`,
    )
  })

  it('writes a changed register into the journal at the next start', async () => {
    await (await start()).stop()
    writeFileSync(join(folder, 'register.yaml'), register('name: Hollin Weir'))
    const service = await start()
    expect(kinds(service)).toEqual(['register', 'register'])
    const last = JSON.parse([...exportJournal(service.plants[0]!.store)].at(-1)!) as { message: { changed: unknown } }
    expect(last.message.changed).toEqual(['some'])
  })

  it('records and acknowledges what it must refuse, with the reason', async () => {
    const service = await start()
    const sender = await connect(service)
    const long = JSON.stringify({ kind: 'reading', note: 'x'.repeat(70_000) })
    const bad = ['{"kind":"reading"', long, '{"kind":"work"}', '{"kind":"tick","time":"2099-01-01T00:00:00Z"}', '7']
    for (const payload of [...bad, '\u0000\ufeff']) await sender.publishAsync('turbidrift/in/x', payload, { qos: 1 })
    expect(service.plants[0]!.store.rejectedTotal()).toBe(6)
    const codes = service.plants[0]!.store.rejects(10).map(({ excerpt, position }) => [position, excerpt.slice(0, 12)])
    expect(codes.reverse()).toEqual([
      ['turbidrift/in/x', '{"kind":"rea'],
      ['turbidrift/in/x', '{"kind":"rea'],
      ['turbidrift/in/x', '{"kind":"wor'],
      ['turbidrift/in/x', '{"kind":"tic'],
      ['turbidrift/in/x', '7'],
      ['turbidrift/in/x', '\\u0000\ufeff'],
    ])
    const faults = journal(service).flatMap(({ message }) => (message as { faults?: { code: string }[] }).faults ?? [])
    expect(faults.map(fault => fault.code)).toEqual([
      'malformed_json',
      'too_large',
      'kind_not_allowed',
      'kind_not_allowed',
      'not_an_object',
      'malformed_json',
    ])
  })

  it('ends with code 1 and acknowledges nothing when the core fails', async () => {
    const service = await start({ kinds: ['reading'] })
    const sender = await connect(service)
    let acknowledged = false
    sender.publish('turbidrift/in/x', '{"kind":"crash"}', { qos: 1 }, error => (acknowledged = error === undefined))
    expect(await service.ended).toBe(1)
    expect(acknowledged).toBe(false)
  })

  it('reads a mapped feed of the register on the embedded broker', async () => {
    const feed = `
feeds:
  - name: site
    type: mqtt
    topic: site/{analyzer}/turbidity
    map: { fields: { value: v, time: t }, constants: { unit: NTU }, time: epochMs }`
    writeFileSync(join(folder, 'register.yaml'), register(feed))
    const service = await start()
    const sender = await connect(service)
    await sender.publishAsync('site/P-A/turbidity', '{"v":0.25,"t":1775001600000}', { qos: 1 })
    await sender.publishAsync('turbidrift/in/x', reading(1), { qos: 1 })
    expect(
      journal(service)
        .map(input => input.message)
        .filter(message => kindOf(message) === 'reading'),
    ).toEqual([{ kind: 'reading', analyzer: 'P-A', time: '2026-04-01T00:00:00.000Z', unit: 'NTU', value: 0.25 }])
  })

  it('stamps the time of arrival where plant time is the clock, and writes no ticks of its own', async () => {
    const service = await start({ ticks: 'clock' })
    const sender = await connect(service)
    await sender.publishAsync('turbidrift/in/x', reading(1), { qos: 1 })
    expect(journal(service).map(input => input.receivedAt)).toEqual([NOW_TEXT, NOW_TEXT])
  })

  it('takes files from the drop folder and puts them away when they are on disk', async () => {
    const drop = join(folder, 'drop')
    mkdirSync(drop)
    writeFileSync(join(drop, 'a.csv'), 'time,P-A\n2026-04-01T00:00:00Z,0.1\n2026-04-01T00:05:00Z,soup\n')
    const service = await start({ dropFolder: drop })
    await eventually('the file is put away', () => existsSync(join(drop, 'refused', 'a.csv')))
    expect(kinds(service)).toEqual(['register', 'reading', 'tick', 'rejected'])
    expect(service.plants[0]!.store.rejects(1)).toMatchObject([{ feed: 'drop', position: 'a.csv:3' }])
    expect(service.plants[0]!.store.position('drop')).toBe('a.csv:3')
  })

  it('says what is wrong instead of starting', async () => {
    writeFileSync(join(folder, 'register.yaml'), 'plant: [1]')
    const started = await startService(options({}), parts())
    expect(started).toMatchObject({ ok: false })
    if (!started.ok) expect(started.problems.join()).toContain('register.yaml')
  })
})

const NOW_TEXT = '2026-05-01T00:00:00.000Z'

function parts() {
  return {
    core: fakeCore,
    registerMessage: fakeRegisterMessage,
    softwareVersion: '0.1.0',
    log: createLog('silent'),
    stdout: new PassThrough(),
    now: () => Date.parse(NOW_TEXT),
  }
}

function options(more: Partial<ServiceOptions>): ServiceOptions {
  return {
    registerPaths: [join(folder, 'register.yaml')],
    storePath: join(folder, 'plant.db'),
    ticks: 'event',
    brokerPort: 0,
    eventsPath: join(folder, 'events.ndjson'),
    ...more,
  }
}

async function start(more: Partial<ServiceOptions> = {}): Promise<Service> {
  const started = await startService(options(more), parts())
  if (!started.ok) throw new Error(started.problems.join())
  open.push(started.service.stop)
  return started.service
}

async function connect(service: Service): Promise<MqttClient> {
  const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${service.brokerPort!}`, { reconnectPeriod: 0 })
  client.on('error', () => {})
  open.push(() => client.endAsync(true))
  return client
}

async function listen(service: Service): Promise<string[]> {
  const heard: string[] = []
  const client = await connect(service)
  client.on('message', (topic, payload) => heard.push(`${topic} ${payload.toString()}`))
  await client.subscribeAsync('turbidrift/plant/event/#', { qos: 1 })
  return heard
}

function journal(service: Service): RecordedInput[] {
  return [...exportJournal(service.plants[0]!.store)].map(line => JSON.parse(line) as RecordedInput)
}

function kinds(service: Service): (string | undefined)[] {
  return journal(service).map(input => kindOf(input.message))
}

function kindOf(message: unknown): string | undefined {
  return (message as { kind?: string } | null)?.kind
}

function events(): string[] {
  return readFileSync(join(folder, 'events.ndjson'), 'utf8').split('\n').slice(0, -1)
}

function register(more: string): string {
  return `plant: plant\npoints: { P: { analyzers: { P-A: { unit: NTU } } } }\n${more}\n`
}

function sumTo(n: number): number {
  return (n * (n + 1)) / 2
}
