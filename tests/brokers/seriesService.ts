import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import type { InfluxDB } from 'influx'
import pino from 'pino'
import { type InfluxConnection, NO_CONNECTIONS } from '../../src/adapters/connectionsFile.js'
import { registerMessage } from '../../src/core/registerInput.js'
import type { SeriesPoint } from '../../src/core/series.js'
import { FEED_KINDS } from '../../src/model/messages.js'
import type { RegisterFile } from '../../src/model/register.js'
import { PLANT_CORE } from '../../src/service/plantCore.js'
import { sendSamples } from '../../src/service/sampleSender.js'
import { type Service, startService } from '../../src/service/service.js'
import { keyOf } from '../core/support/seriesRun.js'

export interface SeriesService {
  readonly service: Service
  /** Resolves when each is acknowledged, and so on disk. */
  readonly send: (messages: readonly unknown[]) => Promise<void>
  readonly log: () => readonly Record<string, unknown>[]
  readonly waiting: () => number
}

/** A folder for a store, its register, and what is sent. */
export function plantFolder(register: RegisterFile): { readonly path: string; readonly remove: () => void } {
  const path = mkdtempSync(join(tmpdir(), 'turbidrift-series-'))
  writeFileSync(join(path, 'register.yaml'), JSON.stringify(register))
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) }
}

/** The service on the store of a folder, with an embedded broker and points that go to InfluxDB; plant time follows the messages. */
export async function startSeriesService(folder: string, influx: InfluxConnection): Promise<SeriesService> {
  const lines: Record<string, unknown>[] = []
  const stream = { write: (line: string) => void lines.push(JSON.parse(line) as Record<string, unknown>) }
  const started = await startService(
    {
      registerPaths: [join(folder, 'register.yaml')],
      storePath: join(folder, 'plant.db'),
      ticks: 'event',
      brokerPort: 0,
      kinds: FEED_KINDS,
      connections: { ...NO_CONNECTIONS, influx },
    },
    {
      core: PLANT_CORE,
      registerMessage,
      softwareVersion: 'test',
      log: pino({ level: 'debug', base: null }, stream),
      stdout: new PassThrough(),
      now: Date.now,
    },
  )
  if (!started.ok) throw new Error(started.problems.join('\n'))
  const { service } = started
  const { series } = service.plants[0]!.store
  return {
    service,
    send: async messages => {
      const file = join(folder, 'messages.ndjson')
      writeFileSync(file, messages.map(message => `${JSON.stringify(message)}\n`).join(''))
      const url = `mqtt://127.0.0.1:${service.brokerPort!}`
      await sendSamples({ url, file, topic: 'turbidrift/in/test', inFlight: 500, progress: () => {} })
    },
    log: () => lines,
    waiting: () => series.counts().waiting,
  }
}

const TAGS = ['plant', 'area', 'point', 'analyzer', 'line', 'side', 'type'] as const

/** Everything a database holds, by measurement, tags and time, as points were made: fields that are absent left out. */
export async function readAll(client: InfluxDB): Promise<Map<string, SeriesPoint['fields']>> {
  const found = new Map<string, SeriesPoint['fields']>()
  const measurements = ['block', 'difference', 'chart', 'status', 'annotation'] as const
  for (const name of measurements.map(one => `turbidity_${one}` as const)) {
    const rows = await client.query<Record<string, unknown> & { time: { getTime: () => number } }>(
      `SELECT * FROM "${name}"`,
    )
    for (const { time, ...row } of rows) {
      const tags = Object.fromEntries(TAGS.map(tag => [tag, (row[tag] as string | null | undefined) ?? undefined]))
      const fields = Object.entries(row).filter(
        ([field, value]) => value !== null && !(TAGS as readonly string[]).includes(field),
      )
      found.set(keyOf(name, tags, time.getTime()), Object.fromEntries(fields) as SeriesPoint['fields'])
    }
  }
  return found
}
