import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest'
import type { InfluxConnection } from '../../src/adapters/connectionsFile.js'
import { createInfluxWriter } from '../../src/adapters/influx/influxWriter.js'
import { secretOf } from '../../src/adapters/secret.js'
import type { SeriesPoint } from '../../src/core/series.js'
import { BUSY_REGISTER, busyStream, closing } from '../core/support/busyStream.js'
import { messagesOf } from '../core/support/run.js'
import { seriesRun } from '../core/support/seriesRun.js'
import { at } from '../core/support/stream.js'
import { eventually } from '../support/eventually.js'
import { hasInflux, type InfluxServer, startInflux } from '../support/servers/influx.js'
import { plantFolder, readAll, type SeriesService, startSeriesService } from './seriesService.js'

const DATABASE = 'plants'
const stream = messagesOf([...busyStream(5), ...closing(BUSY_REGISTER, at(5))])
/** The register and every message; ticks come on top. */
const INPUTS = stream.length + 1

let folder: ReturnType<typeof plantFolder>
let running: SeriesService | undefined
beforeEach(() => {
  folder = plantFolder(BUSY_REGISTER)
})
afterEach(async () => {
  await running?.service.stop()
  running = undefined
  folder.remove()
})

async function start(connection: InfluxConnection): Promise<SeriesService> {
  running = await startSeriesService(folder.path, connection)
  return running
}

/** What the core makes of the same messages, as the database is to hold it. */
function expected(messages: readonly unknown[] = stream): Map<string, SeriesPoint['fields']> {
  const { latest } = seriesRun(messages, { register: BUSY_REGISTER, ticks: 'event' })
  return new Map([...latest].map(([key, point]) => [key, point.fields]))
}

/** Some keys that stand on one side only, or with other fields. */
function unlike(found: ReadonlyMap<string, SeriesPoint['fields']>, wanted: ReadonlyMap<string, SeriesPoint['fields']>) {
  const text = (fields: SeriesPoint['fields'] | undefined) =>
    JSON.stringify(Object.entries(fields ?? {}).sort(([a], [b]) => (a < b ? -1 : 1)))
  return [...new Set([...found.keys(), ...wanted.keys()])]
    .filter(key => text(found.get(key)) !== text(wanted.get(key)))
    .slice(0, 5)
    .map(key => [key, found.get(key), wanted.get(key)])
}

const recordedInputs = ({ service }: SeriesService) => service.plants[0]!.store.lastSeq()
const problems = ({ log }: SeriesService) =>
  log().flatMap(line => (line.msg === 'Points for dashboards wait' ? [String(line.problem)] : []))

describe.skipIf(!hasInflux())('points in InfluxDB', () => {
  let server: InfluxServer
  beforeAll(async () => {
    server = await startInflux()
  })
  beforeEach(async () => {
    await server.client().dropDatabase(DATABASE)
    await server.createDatabase(DATABASE)
  })
  afterAll(() => server.stop())
  const connection = () => ({ url: server.url, database: DATABASE })

  it('arrive once each and as they were made, though it was away at the start and was killed in the middle', async () => {
    await server.kill()
    const away = await start(connection())
    const half = stream.length >> 1
    await away.send(stream.slice(0, half))
    // All is on disk while nothing can be written.
    expect(recordedInputs(away)).toBeGreaterThan(half)
    expect(away.waiting()).toBeGreaterThan(1_000)
    await eventually('it is told', () => problems(away).length > 0)
    expect(problems(away)[0]).toMatch(/^nothing listens on localhost:\d+: start the server there/)
    await server.restart()
    const most = Math.floor(stream.length * 0.8)
    const sending = away.send(stream.slice(half, most))
    await eventually('points arrive', async () => (await readAll(server.client(DATABASE))).size > 500)
    await server.kill()
    await sending
    await away.send(stream.slice(most))
    expect(recordedInputs(away)).toBeGreaterThanOrEqual(INPUTS)
    expect(away.waiting()).toBeGreaterThan(0)
    await server.restart()
    await eventually('all is out', () => away.service.drained())
    expect(unlike(await readAll(server.client(DATABASE)), expected())).toEqual([])
  })

  it('wait in the store over an end of the service, and none is made twice by stepping the journal again', async () => {
    await server.kill()
    const first = await start(connection())
    await first.send(stream.slice(0, 2_000))
    const waiting = first.waiting()
    await first.service.stop()
    await server.restart()
    const second = await start(connection())
    expect(second.waiting()).toBeLessThanOrEqual(waiting)
    await second.send(stream.slice(2_000))
    await eventually('all is out', () => second.service.drained())
    expect(unlike(await readAll(server.client(DATABASE)), expected())).toEqual([])
  })

  it('are refused one by one where the type of a field is another there, counted and told, and the rest arrives', async () => {
    const clash = { measurement: 'turbidity_block', tags: { plant: 'x' }, fields: { usable: 'yes' }, timestamp: at(0) }
    await server.client(DATABASE).writePoints([clash], { precision: 'ms' })
    const { service, send, log } = await start(connection())
    await send(stream.slice(0, 3_000))
    await eventually('all is out', () => service.drained())
    const found = await readAll(server.client(DATABASE))
    const wanted = expected(stream.slice(0, 3_000))
    const isBlock = (key: string) => key.startsWith('turbidity_block ')
    const others = new Map([...wanted].filter(([key]) => !isBlock(key)))
    expect(unlike(new Map([...found].filter(([key]) => !isBlock(key))), others)).toEqual([])
    const { refused } = service.plants[0]!.store.series.counts()
    expect(refused).toBeGreaterThanOrEqual([...wanted.keys()].filter(isBlock).length)
    const told = log().filter(line => line.msg === 'Points for dashboards were refused for good')
    expect(told[0]?.because).toMatch(/^partial write: field type conflict: input field "usable"/)
    expect(told.reduce((sum, line) => sum + Number(line.points), 0)).toBe(refused)
  })

  it('wait for a database that is not there yet, and say so', async () => {
    await server.client().dropDatabase(DATABASE)
    const missing = await start(connection())
    await missing.send(stream.slice(0, 1_000))
    await eventually('it is told', () => problems(missing).length > 0)
    expect(problems(missing)).toEqual([
      expect.stringMatching(/^InfluxDB at localhost:\d+ has no database plants: run CREATE DATABASE "plants" there/),
    ])
    expect(await createInfluxWriter(connection()).check()).toBe(problems(missing)[0])
    await server.createDatabase(DATABASE)
    await eventually('all is out', () => missing.service.drained())
    expect(unlike(await readAll(server.client(DATABASE)), expected(stream.slice(0, 1_000)))).toEqual([])
  })

  it('keep any text of an area and of a sentence', async () => {
    const text = fc.string({ unit: 'grapheme', minLength: 1, maxLength: 40 })
    const given = fc.sample(fc.tuple(text, text), { seed: 20_260_401, numRuns: 300 })
    const points = given.map(([area, sentence], i): SeriesPoint => {
      return {
        measurement: 'turbidity_annotation',
        tags: { plant: 'p', area },
        fields: { text: sentence },
        atMs: at(0) + i,
      }
    })
    expect(await createInfluxWriter(connection()).write(points)).toEqual({ refused: 0, because: undefined })
    const rows = await server
      .client(DATABASE)
      .query<{ area: string | null; text: string }>('SELECT * FROM "turbidity_annotation" ORDER BY time')
    // An area ends neither in a backslash nor in spaces.
    expect(rows.map(row => [row.area ?? '', row.text])).toEqual(
      given.map(([area, sentence]) => [area.replace(/[\\\s]+$/, ''), sentence]),
    )
  })
})

describe.skipIf(!hasInflux())('InfluxDB behind HTTPS, with users', () => {
  let server: InfluxServer
  beforeAll(async () => {
    server = await startInflux({ secure: true })
    await server.createDatabase(DATABASE)
  })
  afterAll(() => server.stop())
  const few = stream.slice(0, 600)

  function connection(password: string, username = server.secure!.user, ca = server.secure!.ca): InfluxConnection {
    const tls = { ca: readFileSync(ca, 'utf8') }
    return { url: server.url, database: DATABASE, username, password: secretOf(password), tls }
  }

  /** The service goes on meanwhile: each message is on disk. */
  async function tellsAndGoesOn(influx: InfluxConnection, sentence: RegExp): Promise<SeriesService> {
    const service = await start(influx)
    await service.send(few)
    expect(recordedInputs(service)).toBeGreaterThan(few.length)
    await eventually('it is told', () => problems(service).length > 0)
    expect(problems(service)).toEqual([expect.stringMatching(sentence)])
    expect(await createInfluxWriter(influx).check()).toBe(problems(service)[0])
    expect(service.waiting()).toBeGreaterThan(0)
    return service
  }

  it('takes points from whoever may write', async () => {
    const { service, send } = await start(connection(server.secure!.password))
    await send(few)
    await eventually('all is out', () => service.drained())
    expect(unlike(await readAll(server.client(DATABASE)), expected(few))).toEqual([])
  })

  it('a wrong password: one sentence, tried again, and right as soon as the server knows it; none of it in the log', async () => {
    const [user, other] = ['dashboards', 'an0ther-password']
    await server.client().createUser(user, 'first')
    await server.client().grantPrivilege(user, 'WRITE', DATABASE)
    const service = await tellsAndGoesOn(
      connection(other, user),
      /^InfluxDB at localhost:\d+ does not let the user dashboards in: correct username or password$/,
    )
    await server.client().setPassword(user, other)
    await eventually('all is out', () => service.service.drained())
    const log = JSON.stringify(service.log())
    expect(log).toContain('Points for dashboards are written again')
    expect(log).not.toContain(other)
    expect(log).not.toContain(Buffer.from(`${user}:${other}`).toString('base64'))
  })

  it('a user without the right to write: one sentence with what to run there, and right once that is done', async () => {
    const { user, password } = server.secure!.stranger
    const service = await tellsAndGoesOn(
      connection(password, user),
      /^InfluxDB at localhost:\d+ does not let the user stranger write to the database plants: run GRANT WRITE ON "plants" TO "stranger" there$/,
    )
    await server.client().grantPrivilege(user, 'WRITE', DATABASE)
    await eventually('all is out', () => service.service.drained())
  })

  it('a certificate of another authority: one sentence', async () => {
    const { password, user, otherCa } = server.secure!
    await tellsAndGoesOn(
      connection(password, user, otherCa),
      /^localhost:\d+ shows a certificate of an authority that is not trusted here/,
    )
  })

  it('http:// in place of https://: one sentence', async () => {
    const influx = { ...connection(server.secure!.password), url: server.url.replace('https:', 'http:') }
    await tellsAndGoesOn(
      influx,
      /answers 400, and not as InfluxDB does: .* begin it with https:\/\/ if it speaks TLS there$/,
    )
  })
})
