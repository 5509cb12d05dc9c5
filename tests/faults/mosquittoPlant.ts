import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect } from 'vitest'
import { openStore } from '../../src/adapters/sqliteStore.js'
import { readRegisterFile } from '../../src/adapters/registerFile.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import { eventually } from '../support/eventually.js'
import { type Mosquitto, startMosquitto } from '../support/mosquitto.js'
import { build, SAMPLES } from './built.js'
import { unbrokenEvents, writeBeginning } from './expected.js'
import { eventsOf, inputsIn, temporaryFolder } from './killed.js'
import { type ServeProcess, startServe } from './processes.js'

export const TOPIC = 'site/sample'

/** The sample's plant behind a broker of its own, and what an unbroken run over its messages says. */
export interface MosquittoPlant {
  readonly folder: string
  readonly broker: Mosquitto
  /** NDJSON file of the messages, in their order. */
  readonly stream: string
  readonly lines: readonly string[]
  readonly expected: ReadonlyMap<string, string>
  readonly start: () => Promise<ServeProcess>
  /** Waits until a service is connected to the broker for the so many-th time, its subscription sent. */
  readonly connected: (service: ServeProcess, times?: number) => Promise<void>
  readonly onDisk: () => number
  /** Inputs of the feed in the journal, in the order they were taken, as canonical JSON. */
  readonly taken: () => readonly string[]
  /** Waits for the last event of the unbroken run, ends the service, and compares all. */
  readonly sameEvents: (service: ServeProcess) => Promise<void>
  readonly remove: () => Promise<void>
}

export interface MosquittoPlantOptions {
  /** Messages that arrived before this time are sent. */
  readonly before: string
  /** Puts the messages into another order, before anything else is made of them. */
  readonly arrange?: (lines: readonly string[]) => readonly string[]
  /** Publish the events to the same broker. */
  readonly publishEvents?: boolean
  /** Folder of the store; default the folder of everything else. */
  readonly storeFolder?: string
}

export async function mosquittoPlant(options: MosquittoPlantOptions): Promise<MosquittoPlant> {
  build()
  const broker = await startMosquitto()
  const { folder, remove } = temporaryFolder()
  const [stream, register, connections, events] = [
    'stream.ndjson',
    'register.yaml',
    'connections.yaml',
    'events.ndjson',
  ].map(name => join(folder, name)) as [string, string, string, string]
  const store = join(options.storeFolder ?? folder, 'plant.db')
  writeFileSync(
    register,
    `${readFileSync(join(SAMPLES, 'register.yaml'), 'utf8')}
feeds:
  - { name: site, type: mqtt, connection: site, topic: "site/#", kinds: [ reading, grab, work, process ] }
`,
  )
  const publishEvents = String(options.publishEvents ?? false)
  writeFileSync(connections, `mqtt: { site: { url: "${broker.url}", publishEvents: ${publishEvents} } }`)
  await writeBeginning(stream, options.before)
  const written = readFileSync(stream, 'utf8').split('\n').slice(0, -1)
  const lines = options.arrange?.(written) ?? written
  writeFileSync(stream, lines.map(line => `${line}\n`).join(''))
  const read = await readRegisterFile(register)
  if (!read.ok) throw new Error(read.problems.join())
  const expected = unbrokenEvents(stream, read.file)
  const args = ['--register', register, '--connections', connections, '--store', store]

  return {
    folder,
    broker,
    stream,
    lines,
    expected,
    start: () => startServe([...args, '--ticks', 'event', '--events', events]),
    connected: (service, times = 1) =>
      eventually('the feed is connected', () => {
        const said = service.log.filter(({ msg, feed }) => msg === 'Connected to the broker' && feed === 'site')
        return said.length >= times
      }),
    onDisk: () => inputsIn(store),
    taken: () => takenFrom(store),
    sameEvents: async service => {
      await eventually('the service has published every event', () => eventsOf(events).size >= expected.size, 200_000)
      expect(await service.kill('SIGTERM')).toBe(0)
      expectSame(eventsOf(events), expected)
    },
    remove: async () => {
      await broker.stop()
      remove()
    },
  }
}

/** None lost, none more, none with other content. */
export function expectSame(got: ReadonlyMap<string, string>, expected: ReadonlyMap<string, string>): void {
  expect([...got.keys()].filter(id => !expected.has(id))).toEqual([])
  expect([...expected.keys()].filter(id => !got.has(id))).toEqual([])
  for (const [id, content] of expected) expect(got.get(id)).toBe(content)
}

function takenFrom(path: string): readonly string[] {
  const opened = openStore(path, undefined, { readOnly: true })
  if (!opened.ok) throw new Error(opened.problem)
  const inputs = [...opened.store.journalAfter(0)].map(row => JSON.parse(row.input) as RecordedInput)
  opened.store.close()
  return inputs.filter(({ feed }) => feed === 'site').map(({ message }) => canonicalJson(message))
}
