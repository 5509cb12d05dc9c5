import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest'
import { openStore, type Store } from '../../src/adapters/sqliteStore.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import { exportJournal } from '../../src/service/exportJournal.js'
import { float, type SentMetric, T0 } from '../adapters/sparkplug/edgeNode.js'
import { connectEdgeNode, type MqttEdgeNode } from '../adapters/sparkplug/mqttEdgeNode.js'
import { build } from '../faults/built.js'
import { type ServeProcess, startServe } from '../faults/processes.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, type Mosquitto, startMosquitto } from '../support/mosquitto.js'

const ANALYZERS = ['FE1-A', 'FE1-B'] as const
const DEVICE = 'Skid'

describe.skipIf(!hasMosquitto())('Sparkplug on Mosquitto', () => {
  let broker: Mosquitto
  let folder: string
  let open: (() => Promise<unknown>)[]
  let sent: number
  beforeAll(async () => {
    build()
    broker = await startMosquitto()
  }, 180_000)
  afterAll(() => broker.stop())
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'turbidrift-sparkplug-'))
    open = []
    sent = 0
  })
  afterEach(async () => {
    for (const close of open.reverse()) await close()
    rmSync(folder, { recursive: true, force: true })
  })

  it('keeps aliases through a restart, and refuses them once a message was lost', async () => {
    let service = await serve('restart')
    const node = await edgeNode(0)
    await node.birth()
    await node.send('DBIRTH', born(), DEVICE)
    await node.send('DDATA', data(), DEVICE)
    await eventually('four readings are on disk', () => readings().length === 4)
    await service.kill('SIGTERM')
    service = await serve('restart')
    await node.send('DDATA', data(), DEVICE)
    await eventually('aliases are known', () => readings().length === 6)
    await service.kill('SIGTERM')
    await node.send('DDATA', data(), DEVICE)
    service = await serve('restart')
    await eventually('what was sent meanwhile was kept', () => readings().length === 8)
    node.lose()
    await node.send('DDATA', data(), DEVICE)
    await eventually('they are refused', () => rejectedTotal() === 1)
    await eventually('it is counted', async () => (await sampleOf(service, 'sequence_gaps_total')) === 1)
    expect(await sampleOf(service, 'broker_connected')).toBe(1)
    await node.birth()
    await node.send('DBIRTH', born(), DEVICE)
    await node.send('DDATA', data(), DEVICE)
    await eventually('they are taken again', () => readings().length === 12)
    expect(readings().every(isWhoseItSays)).toBe(true)
  })

  it('takes a death from the broker, and the next session after the broker was killed', async () => {
    const service = await serve('death')
    const node = await edgeNode(0)
    await node.birth()
    await node.send('DBIRTH', born(), DEVICE)
    await eventually('it is born', () => readings().length === 2)
    await node.cut()
    await eventually('it is dead', async () => (await sampleOf(service, 'sparkplug_deaths_total')) === 1)
    await broker.killAndRestart()
    await eventually('the service is back', async () => (await sampleOf(service, 'broker_connected')) === 1)
    const next = await edgeNode(1)
    await next.send('DDATA', data(true), DEVICE)
    await eventually('it has to be born first', () => rejectedTotal() === 1)
    await next.birth()
    await next.send('DBIRTH', born(), DEVICE)
    await eventually('it is', () => readings().length === 4)
  })

  it('takes more readings in one packet than one batch holds', async () => {
    await serve('packet')
    const node = await edgeNode(0)
    await node.birth()
    await node.send('DBIRTH', born(), DEVICE)
    const many = Array.from({ length: 600 }, () => data()).flat()
    await node.send('DDATA', many, DEVICE)
    await eventually('all are on disk', () => readings().length === 1_202)
    const taken = readings().slice(2)
    expect(taken.map(({ value }) => value)).toEqual(many.map(({ value }) => value as number))
  })

  it('gives no reading to another analyzer, though it is killed while births give aliases anew', async () => {
    const kills = 6
    let service = await serve('killed')
    const node = await edgeNode(0)
    const stop = new AbortController()
    const stopping = stop.signal
    let isSwapped = false
    const rebirth = async () => {
      isSwapped = !isSwapped
      await node.birth()
      await node.send('DBIRTH', born(isSwapped), DEVICE)
    }
    const send = async () => {
      for (let n = 0; !stopping.aborted; n++) {
        if (n % 40 === 0) await rebirth()
        await node.send('DDATA', data(false, isSwapped), DEVICE)
        await wait(2)
      }
    }
    const sending = send()
    for (let n = 0; n < kills; n++) {
      const before = readings().length
      await eventually('it takes readings', () => readings().length > before + 20 + 13 * n)
      await service.kill('SIGKILL')
      service = await serve('killed')
    }
    stop.abort()
    await sending
    await rebirth()
    const last = data(false, isSwapped)
    await node.send('DDATA', last, DEVICE)
    await eventually('the last is on disk', () => readings().at(-1)?.value === last[1]!.value)
    const taken = readings()
    expect(taken.filter(reading => !isWhoseItSays(reading))).toEqual([])
    // Repeats aside, for a batch may have been written and not acknowledged.
    expect(new Set(taken.map(({ value }) => value)).size).toBe(taken.length)
  }, 300_000)

  /** The first of the two analyzers has even values. */
  function nextValues(): readonly [number, number] {
    sent += 2
    return [sent, sent + 1]
  }

  function born(isSwapped = false): SentMetric[] {
    const values = nextValues()
    return ANALYZERS.map((name, i) =>
      float(`${name} turbidity`, values[i]!, { ...stamp(), alias: aliasOf(i, isSwapped) }),
    )
  }

  function data(byName = false, isSwapped = false): SentMetric[] {
    const values = nextValues()
    return ANALYZERS.map((name, i) =>
      byName
        ? float(`${name} turbidity`, values[i]!, stamp())
        : float(undefined, values[i]!, { ...stamp(), alias: aliasOf(i, isSwapped) }),
    )
  }

  function stamp(): { readonly timestamp: number } {
    return { timestamp: T0 + sent * 1_000 }
  }

  async function serve(name: string): Promise<ServeProcess> {
    const register = join(folder, 'register.yaml')
    writeFileSync(
      register,
      `
plant: ${name}
points:
  FE1: { analyzers: { FE1-A: { unit: NTU }, FE1-B: { unit: NTU } } }
feeds:
  - name: gateway
    type: sparkplug
    url: ${broker.url}
    group: Hollin Weir
    metrics:
      - { device: ${DEVICE}, metric: '{analyzer} turbidity', field: value }
`,
    )
    const args = ['--register', register, '--store', join(folder, 'plant.db'), '--ticks', 'event', '--metrics', '0']
    const service = await startServe(args)
    open.push(() => service.kill('SIGKILL'))
    // Nobody keeps a message of QoS 0 for who has not subscribed yet.
    const probe = await connectEdgeNode(broker.url, 0, 'Probe')
    open.push(probe.end)
    await eventually('it hears', async () => {
      await probe.birth()
      return service.log.some(({ msg, node }) => msg === 'Sparkplug birth' && node === 'Probe')
    })
    return service
  }

  async function edgeNode(session: number): Promise<MqttEdgeNode> {
    const node = await connectEdgeNode(broker.url, session)
    open.push(node.end)
    return node
  }

  async function sampleOf(service: ServeProcess, name: string): Promise<number | undefined> {
    const { port } = service.log.find(({ msg }) => msg === 'Metrics are served')!
    const answer = await fetch(`http://127.0.0.1:${String(port)}/metrics`)
    const line = (await answer.text()).split('\n').find(each => each.startsWith(`turbidrift_${name}{`))
    return line === undefined ? undefined : Number(line.split(' ').at(-1))
  }

  function readings(): { readonly analyzer: string; readonly value: number }[] {
    return inStore(store =>
      [...exportJournal(store)]
        .map(line => (JSON.parse(line) as RecordedInput).message as { kind: string; analyzer: string; value: number })
        .filter(({ kind }) => kind === 'reading'),
    )
  }

  function rejectedTotal(): number {
    return inStore(store => store.rejectedTotal())
  }

  function inStore<T>(read: (store: Store) => T): T {
    const opened = openStore(join(folder, 'plant.db'), undefined, { readOnly: true })
    if (!opened.ok) throw new Error(opened.problem)
    try {
      return read(opened.store)
    } finally {
      opened.store.close()
    }
  }
})

function aliasOf(index: number, isSwapped: boolean): number {
  return isSwapped ? 1 - index : index
}

function isWhoseItSays({ analyzer, value }: { readonly analyzer: string; readonly value: number }): boolean {
  return analyzer === ANALYZERS[value % 2]
}
