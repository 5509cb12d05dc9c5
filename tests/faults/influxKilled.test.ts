import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { openStore } from '../../src/adapters/sqliteStore.js'
import { readAll } from '../brokers/seriesService.js'
import { sampleRegister } from '../core/support/sample.js'
import { seriesRun } from '../core/support/seriesRun.js'
import { eventually } from '../support/eventually.js'
import { hasInflux, type InfluxServer, startInflux } from '../support/servers/influx.js'
import { build, SAMPLES } from './built.js'
import { parseLines, writeBeginning } from './expected.js'
import { inputsIn, killAtMoments, moments, temporaryFolder } from './killed.js'
import { startSender, startServe } from './processes.js'

const REGISTER = join(SAMPLES, 'register.yaml')
const BEFORE = '2026-04-07T00:00:00Z'
const SERVICE_KILLS = 8
const ALL_KINDS = ['--kinds', 'reading', 'grab', 'work', 'process', 'laboratory_check', 'response']

describe.skipIf(!hasInflux())(`serve, killed ${SERVICE_KILLS} times while it writes to InfluxDB`, () => {
  const { folder, remove } = temporaryFolder()
  const stream = join(folder, 'stream.ndjson')
  let server: InfluxServer
  let messages = 0
  beforeAll(async () => {
    build()
    messages = await writeBeginning(stream, BEFORE)
    server = await startInflux()
    await server.createDatabase('plants')
  }, 180_000)
  afterAll(async () => {
    await server.stop()
    remove()
  })

  it('leaves every point of the unbroken run there, each with the same fields, and no other', async () => {
    const store = join(folder, 'plant.db')
    const connections = join(folder, 'connections.yaml')
    writeFileSync(connections, `influx:\n  url: ${server.url}\n  database: plants\n`)
    const places = ['--register', REGISTER, '--store', store, '--connections', connections]
    const common = [...places, '--ticks', 'event', ...ALL_KINDS]
    const first = await startServe([...common, '--port', '0'])
    const sender = startSender(`mqtt://127.0.0.1:${first.port!}`, stream, 'turbidrift/in/sample', 500)
    let running = first
    try {
      let starts = 0
      const start = async () => {
        if (starts++ === 0) return first
        // In the middle the database goes as well, and comes back two kills later.
        if (starts === 4) await server.kill()
        if (starts === 6) await server.restart()
        return startServe([...common, '--port', String(first.port)])
      }
      const at = moments(20_260_401, SERVICE_KILLS, messages * 0.95)
      running = await killAtMoments(at, start, () => inputsIn(store), sender)
      await eventually('everything is acknowledged', sender.done, 400_000)
      await eventually('every point is written', () => waitingIn(store) === 0)
      expect(await running.kill('SIGTERM')).toBe(0)
    } finally {
      sender.end()
      await running.kill('SIGKILL')
    }
    const { latest } = seriesRun(parseLines(readFileSync(stream, 'utf8')), {
      register: sampleRegister(),
      ticks: 'event',
    })
    const found = await readAll(server.client('plants'))
    expect([...found.keys()].filter(key => !latest.has(key))).toEqual([])
    expect([...latest.keys()].filter(key => !found.has(key))).toEqual([])
    for (const [key, { fields }] of latest) expect(found.get(key)).toEqual(fields)
    expect(latest.size).toBeGreaterThan(9_000)
  }, 600_000)
})

function waitingIn(path: string): number {
  const opened = openStore(path, undefined, { readOnly: true })
  if (!opened.ok) throw new Error(opened.problem)
  const { waiting } = opened.store.series.counts()
  opened.store.close()
  return waiting
}
