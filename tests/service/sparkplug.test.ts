import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { registerMessage } from '../../src/core/registerInput.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import { exportJournal } from '../../src/service/exportJournal.js'
import { createLog } from '../../src/service/log.js'
import { createMetrics, type Metrics, TEXT_TYPE } from '../../src/service/metrics.js'
import { PLANT_CORE } from '../../src/service/plantCore.js'
import { type Service, startService } from '../../src/service/service.js'
import { float, T0 } from '../adapters/sparkplug/edgeNode.js'
import { connectEdgeNode, type MqttEdgeNode } from '../adapters/sparkplug/mqttEdgeNode.js'
import { eventually } from '../support/eventually.js'

const REGISTER = `
plant: hollin-weir
points:
  FE1: { analyzers: { FE1-A: { unit: NTU }, FE1-B: { unit: NTU } } }
feeds:
  - name: gateway
    type: sparkplug
    group: Hollin Weir
    metrics:
      - { device: '{analyzer}', metric: turbidity, field: value }
`
let folder: string
let open: (() => Promise<unknown>)[]
let metrics: Metrics
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'turbidrift-sparkplug-'))
  writeFileSync(join(folder, 'register.yaml'), REGISTER)
  open = []
  metrics = createMetrics()
})
afterEach(async () => {
  for (const close of open.reverse()) await close()
  rmSync(folder, { recursive: true, force: true })
})

const at = (minute: number) => ({ timestamp: T0 + minute * 60_000 })

describe('Sparkplug on the embedded broker', () => {
  it('gives readings by alias, also after a restart of the service, until the edge node is dead', async () => {
    let service = await start()
    let node = await edgeNode(service, 0)
    await node.birth()
    await node.send('DBIRTH', [float('turbidity', 0.1, { alias: 1, ...at(0) })], 'FE1-A')
    await node.send('DDATA', [float(undefined, 0.2, { alias: 1, ...at(1) })], 'FE1-A')
    await eventually('both are on disk', () => values(service).length === 2)
    await service.stop()

    service = await start()
    // The edge node did not notice: it goes on where it was, on a new connection of the same session.
    const again = await edgeNode(service, 0)
    for (let n = 0; n < 3; n++) again.lose()
    await again.send('DDATA', [float(undefined, 0.3, { alias: 1, ...at(2) })], 'FE1-A')
    await eventually('it is known by its alias', () => values(service).length === 3)
    const deaths = (await count('sparkplug_deaths_total')) ?? 0
    await again.cut()
    await eventually(
      'its will says that it is dead',
      async () => (await count('sparkplug_deaths_total')) === deaths + 1,
    )
    node = await edgeNode(service, 1)
    for (let n = 0; n < 4; n++) node.lose()
    await node.send('DDATA', [float('turbidity', 0.4, at(3))], 'FE1-A')
    await eventually('it is refused', () => service.plants[0]!.store.rejectedTotal() === 1)
    expect(service.plants[0]!.store.rejects(1)).toMatchObject([
      { feed: 'gateway', position: 'spBv1.0/Hollin Weir/DDATA/Filters/FE1-A', faults: [{ code: 'no_birth' }] },
    ])
    await node.birth()
    await node.send('DBIRTH', [float('turbidity', 0.5, at(4))], 'FE1-A')
    await eventually('it is taken again', () => values(service).length === 4)
    expect(values(service)).toEqual([
      ['FE1-A', 0.1],
      ['FE1-A', 0.2],
      ['FE1-A', 0.3],
      ['FE1-A', 0.5],
    ])
  })

  it('has its counts among the metrics', async () => {
    const service = await start()
    const node = await edgeNode(service, 0)
    await node.birth()
    await node.send('DBIRTH', [float('turbidity', 0.1, at(0))], 'FE1-A')
    await node.send('DBIRTH', [float('turbidity', 0.1, { alias: 7, ...at(0) })], 'FE1-B')
    for (const minute of [1, 2, 2, 5, 6, 7, 8]) await node.send('DDATA', [float('turbidity', 0.1, at(minute))], 'FE1-A')
    node.lose()
    await node.send('DDATA', [float(undefined, 0.1, { alias: 7, ...at(1) })], 'FE1-B')
    await node.send('DDATA', [float('turbidity', 0.1, at(1))], 'FE9-Z')
    await eventually('all are on disk', async () => (await count('messages_refused_total')) === 2)
    // The tick that plant time follows is no message of the feed.
    expect(await count('messages_taken_total')).toBe(9 + 2)
    expect(await count('messages_repeated_total')).toBe(1)
    expect(await count('readings_missing_total')).toBe(2)
    expect(await count('sequence_gaps_total')).toBe(1)
    expect(await count('batch_write_seconds_count')).toBeGreaterThan(0)
    expect(await count('analyzers')).toBe(2)
    expect(await count('events_waiting')).toBe(0)
    await service.stop()
    expect(await count('analyzers')).toBeUndefined()
  })
})

async function start(): Promise<Service> {
  const started = await startService(
    {
      registerPaths: [join(folder, 'register.yaml')],
      storePath: join(folder, 'plant.db'),
      ticks: 'event',
      brokerPort: 0,
    },
    {
      core: PLANT_CORE,
      registerMessage,
      softwareVersion: '0.0.0',
      log: createLog('silent'),
      stdout: new PassThrough(),
      now: Date.now,
      metrics,
    },
  )
  if (!started.ok) throw new Error(started.problems.join('; '))
  open.push(started.service.stop)
  return started.service
}

async function edgeNode(service: Service, session: number): Promise<MqttEdgeNode> {
  const node = await connectEdgeNode(`mqtt://127.0.0.1:${String(service.brokerPort)}`, session)
  open.push(node.end)
  return node
}

function values(service: Service): [unknown, unknown][] {
  return [...exportJournal(service.plants[0]!.store)]
    .map(line => (JSON.parse(line) as RecordedInput).message as Record<string, unknown>)
    .filter(({ kind }) => kind === 'reading')
    .map(({ analyzer, value }) => [analyzer, value])
}

/** A sum over labels; undefined where there is no such sample. */
async function count(name: string): Promise<number | undefined> {
  const lines = (await metrics.expose(TEXT_TYPE)).split('\n').filter(line => line.startsWith(`turbidrift_${name}`))
  const samples = lines.filter(line => ['{', ' '].includes(line[`turbidrift_${name}`.length]!))
  return samples.length === 0 ? undefined : samples.reduce((sum, line) => sum + Number(line.split(' ').at(-1)), 0)
}
