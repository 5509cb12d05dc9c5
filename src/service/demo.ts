import { mkdirSync, rmSync } from 'node:fs'
import { join, relative, resolve } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { fileURLToPath } from 'node:url'
import { readFile } from 'node:fs/promises'
import { readConnectionsFile } from '../adapters/connectionsFile.js'
import { registerMessage } from '../core/registerInput.js'
import type { PlantState } from '../core/plantState.js'
import { FEED_KINDS } from '../model/messages.js'
import type { SimulationTruth } from '../simulate/truth.js'
import { truthTable } from '../report/truthTable.js'
import { renderTruthTable } from '../report/terminal/truthTableText.js'
import { evidenceAtOpening, type WrittenPage } from './evidenceAtOpening.js'
import { createLog } from './log.js'
import { outboxEvents } from './outboxEvents.js'
import { PLANT_CORE } from './plantCore.js'
import type { Core } from './plantRunner.js'
import { sendSamples } from './sampleSender.js'
import { onSignal, refuse } from './processEnd.js'
import { type Service, startService } from './service.js'
import { SOFTWARE_VERSION } from './version.js'

export interface DemoOptions {
  /** Stay up when the stream is through, for looking at topics and store. */
  readonly keep?: boolean
  /** connections.yaml; default: none but the embedded broker. */
  readonly connectionsPath?: string
  /** Folder with register.yaml, stream.ndjson.gz and truth.json; default: the one that comes with the software. */
  readonly samples?: string
  /** Made anew; default `.turbidrift/demo`. */
  readonly folder?: string
}

const SAMPLES = fileURLToPath(new URL('../../sample-streams', import.meta.url))
const IN_FLIGHT = 1_000

/**
 * The whole service on the invented plant, fast-forwarded: its embedded broker, a fresh store, and a real MQTT client
 * that sends sixty days of messages with QoS 1. Then what was found beside what was true.
 * @returns exit code
 */
export async function runDemo(options: DemoOptions): Promise<number> {
  const read = await readConnectionsFile(options.connectionsPath, process.env)
  if (!read.ok) return refuse(read.problems)
  const samples = options.samples ?? SAMPLES
  const folder = resolve(options.folder ?? join('.turbidrift', 'demo'))
  const pages = join(folder, 'evidence')
  for (const name of ['plant.db', 'plant.db-wal', 'plant.db-shm', 'evidence']) {
    rmSync(join(folder, name), { recursive: true, force: true })
  }
  mkdirSync(pages, { recursive: true })
  const truth = JSON.parse(await readFile(join(samples, 'truth.json'), 'utf8')) as SimulationTruth
  const written: WrittenPage[] = []
  const started = await startService(
    {
      registerPaths: [join(samples, 'register.yaml')],
      storePath: join(folder, 'plant.db'),
      ticks: 'event',
      brokerPort: 0,
      kinds: FEED_KINDS,
      connections: read.connections,
    },
    {
      core: evidenceAtOpening(PLANT_CORE, pages, page => written.push(page)) satisfies Core<PlantState>,
      registerMessage,
      softwareVersion: SOFTWARE_VERSION,
      log: createLog('warn'),
      stdout: process.stdout,
      now: Date.now,
    },
  )
  if (!started.ok) return refuse(started.problems)
  const { service } = started
  const ending = new AbortController()
  const release = onSignal(() => {
    ending.abort()
    void service.stop()
  })
  const url = `mqtt://127.0.0.1:${String(service.brokerPort)}`
  tell(`Hollin Weir Water Works, an invented plant: ${truth.days} days, fast-forwarded through ${url}`)
  const startedMs = performance.now()
  const sent = await sendSamples({
    url,
    file: join(samples, 'stream.ndjson.gz'),
    topic: 'turbidrift/in/demo',
    inFlight: IN_FLIGHT,
    progress: progressOf(truth),
    signal: ending.signal,
  })
  if (!ending.signal.aborted) {
    const seconds = (performance.now() - startedMs) / 1_000
    const events = outboxEvents(service.plants[0]!.store)
    tell(`${sent} messages on disk in ${seconds.toFixed(0)} s, ${events.length} events`)
    process.stdout.write(`${renderTruthTable(truthTable(events, truth))}\n`)
    tellWhere(written, service, folder)
    if (read.connections.influx !== undefined) await untilWritten(service, ending.signal)
    if (options.keep === true) {
      tell(`\nStill running. Subscribe to turbidrift/# at ${url}; end with Ctrl-C.`)
    } else void service.stop()
  }
  const code = await service.ended
  release()
  return code
}

function progressOf({ start, end }: SimulationTruth): (acknowledged: number, line: string) => void {
  const [from, to] = [Date.parse(start), Date.parse(end)]
  let told = 0
  return (_acknowledged, line) => {
    const day = /"(?:time|reported|sampled)":"([^"]+)"/.exec(line)?.[1]
    const percent = day === undefined ? 0 : Math.floor((100 * (Date.parse(day) - from)) / (to - from))
    if (percent < told + PERCENT_STEP) return
    told = percent - (percent % PERCENT_STEP)
    tell(`  ${String(told).padStart(3)} %  ${day!.slice(0, 10)}`)
  }
}

const PERCENT_STEP = 10

function tellWhere(written: readonly WrittenPage[], service: Service, folder: string): void {
  const here = relative('.', folder)
  tell('\nEvidence as it stood when each was opened:')
  for (const { file, title } of written) tell(`  ${join(here, 'evidence', file)}  ${title}`)
  tell(`Store: ${join(here, 'plant.db')}, ${String(service.plants[0]!.store.lastSeq())} recorded inputs`)
}

const POINTS_WAIT_S = 60

/** Points for dashboards follow at their own pace; where nothing takes them the log has said why. */
async function untilWritten({ plants }: Service, signal: AbortSignal): Promise<void> {
  const { series } = plants[0]!.store
  for (let left = POINTS_WAIT_S; left > 0 && series.counts().waiting > 0; left--) {
    await wait(1_000)
    // The store is closed then.
    if (signal.aborted) return
  }
  const { waiting, refused } = series.counts()
  if (waiting + refused === 0) tell('Points for dashboards: all in InfluxDB')
  else tell(`Points for dashboards: ${waiting} still wait for InfluxDB, ${refused} were refused by it`)
}

function tell(text: string): void {
  process.stderr.write(`${text}\n`)
}
