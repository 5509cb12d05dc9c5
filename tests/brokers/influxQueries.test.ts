import { readFileSync } from 'node:fs'
import type { InfluxDB } from 'influx'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { explainAnalyzer } from '../../src/core/explain.js'
import type { PlantState } from '../../src/core/plantState.js'
import type { PlantEvent } from '../../src/model/events.js'
import { DAY_MS, formatInstant, HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { outboxEvents } from '../../src/service/outboxEvents.js'
import { PLANT_CORE } from '../../src/service/plantCore.js'
import { recoverState } from '../../src/service/recover.js'
import { sampleMessages, sampleRegister } from '../core/support/sample.js'
import { eventually } from '../support/eventually.js'
import { hasInflux, type InfluxServer, startInflux } from '../support/servers/influx.js'
import { plantFolder, startSeriesService } from './seriesService.js'

const FILE = new URL('../../deploy/dashboard-queries.influxql', import.meta.url)
const DATABASE = 'plants'
/** Long enough for requests at CFE-C and FE3-B of the invented plant. */
const DAYS = 20

/** Texts by name, as they stand in the file that is shipped. */
function shippedQueries(): ReadonlyMap<string, string> {
  const [, ...parts] = readFileSync(FILE, 'utf8').split(/^-- name: /m)
  return new Map(
    parts.map(part => {
      const end = part.indexOf('\n')
      return [part.slice(0, end), part.slice(end)]
    }),
  )
}

type Row = Record<string, unknown> & { readonly time: { getTime: () => number } }

describe.skipIf(!hasInflux())('a dashboard asks what the first weeks of the invented plant left in InfluxDB', () => {
  const queries = shippedQueries()
  const asked = new Set<string>()
  let server: InfluxServer
  let client: InfluxDB
  /** What the service itself knows, out of its store. */
  let state: PlantState
  let events: readonly PlantEvent[]
  let endMs: number

  beforeAll(async () => {
    server = await startInflux()
    await server.createDatabase(DATABASE)
    const folder = plantFolder(sampleRegister())
    const running = await startSeriesService(folder.path, { url: server.url, database: DATABASE })
    await running.send(sampleMessages(DAYS))
    await eventually('all is out', () => running.service.drained())
    const { store } = running.service.plants[0]!
    expect(store.series.counts()).toEqual({ waiting: 0, dropped: 0, refused: 0 })
    state = recoverState(PLANT_CORE, store, 'hollin-weir')
    events = outboxEvents(store)
    endMs = state.plantMs
    await running.service.stop()
    folder.remove()
    client = server.client(DATABASE)
  }, 300_000)
  afterAll(() => server.stop())

  async function ask(name: string, bound: Record<string, string>, lastMs: number): Promise<Row[]> {
    asked.add(name)
    const text = queries.get(name)
    if (text === undefined) throw new Error(`no query ${name}`)
    const placeholders = { from: formatInstant(endMs - lastMs), to: formatInstant(endMs), ...bound }
    return [...(await client.query<Row>(text, { placeholders }))]
  }

  const plantOf = () => state.register!.plant
  const statusOf = (analyzer: string) => state.published.statuses.get(analyzer)!.data
  const byAnalyzer = (rows: readonly Row[]) => new Map(rows.map(row => [row.analyzer as string, row]))
  const within = (event: PlantEvent, lastMs: number) => Date.parse(event.time) > endMs - lastMs

  it.each([
    [
      'last_bias_of_an_area',
      { area: 'Filter hall' },
      (point: string) => plantOf().points.get(point)?.area === 'Filter hall',
    ],
    ['last_bias_of_a_point', { point: 'CFE' }, (point: string) => point === 'CFE'],
  ])('%s: the last bias of each analyzer with its interval', async (name, bound, isIn) => {
    const rows = byAnalyzer(await ask(name, bound, 2 * HOUR_MS))
    const told = [...plantOf().analyzers.values()].filter(
      ({ id, point }) => isIn(point) && statusOf(id).bias !== undefined,
    )
    expect([...rows.keys()].sort()).toEqual(told.map(({ id }) => id).sort())
    expect(told.length).toBeGreaterThanOrEqual(3)
    for (const { id } of told) {
      const { bias, assessment, summary } = statusOf(id)
      expect(rows.get(id)).toMatchObject({
        biasNtu: bias!.ntu,
        ci95LowNtu: bias!.ci95[0],
        ci95HighNtu: bias!.ci95[1],
        biasOfTolerance: bias!.ofTolerance,
        ci95LowOfTolerance: bias!.ofToleranceCi95[0],
        ci95HighOfTolerance: bias!.ofToleranceCi95[1],
        toleranceNtu: bias!.toleranceNtu,
        assessment,
        summary,
      })
    }
  })

  it('standing_of_each_analyzer: those without a bias say what is missing', async () => {
    const rows = byAnalyzer(await ask('standing_of_each_analyzer', {}, 2 * HOUR_MS))
    expect(rows.size).toBe(plantOf().analyzers.size)
    for (const [analyzer, row] of rows) expect(row.assessment).toBe(statusOf(analyzer).assessment)
    // No grab samples are taken at the backwash waste.
    expect(rows.get('BW-A')).toMatchObject({ assessment: 'not_assessed', missing: statusOf('BW-A').missing.join('; ') })
  })

  it('zero_and_span_error: of units that are off', async () => {
    const rows = byAnalyzer(await ask('zero_and_span_error', { point: 'FE3' }, 2 * HOUR_MS))
    const { model } = events.findLast(event => event.subject === 'FE3-B' && 'model' in event.data)!.data as {
      model: { zeroNtu: { value: number } }
    }
    // FE3-B drifts on after the request.
    expect(rows.get('FE3-B')!.zeroErrorNtu).toBeLessThan(0)
    expect(Math.abs((rows.get('FE3-B')!.zeroErrorNtu as number) - model.zeroNtu.value)).toBeLessThan(0.02)
  })

  it('analyzers_by_size_of_bias: every analyzer with a bias, and with the size told', async () => {
    const rows = await ask('analyzers_by_size_of_bias', {}, 2 * HOUR_MS)
    const ordered = rows
      .map(row => [row.analyzer as string, row.sizeOfTolerance as number] as const)
      .sort(([, a], [, b]) => b - a)
    const told = [...plantOf().analyzers.keys()]
      .flatMap(id => (statusOf(id).bias === undefined ? [] : [[id, Math.abs(statusOf(id).bias!.ofTolerance)] as const]))
      .sort(([, a], [, b]) => b - a)
    expect(ordered).toEqual(told)
    expect(told.length).toBeGreaterThan(10)
    // The three that requests are open about.
    expect(ordered.slice(0, 3).map(([id]) => id)).toEqual(expect.arrayContaining(['CFE-C', 'CW-A', 'FE3-B']))
  })

  it('bias_over_time: what statuses told, hour by hour', async () => {
    const rows = await ask('bias_over_time', { analyzer: 'CFE-C' }, 10 * DAY_MS)
    const told = events.flatMap(event =>
      event.type === 'analyzer.status' && event.subject === 'CFE-C' && within(event, 10 * DAY_MS) && event.data.bias
        ? [[Date.parse(event.time), event.data.bias.ntu, ...event.data.bias.ci95]]
        : [],
    )
    expect(rows.map(row => [row.time.getTime(), row.biasNtu, row.ci95LowNtu, row.ci95HighNtu])).toEqual(told)
    expect(told.length).toBeGreaterThan(200)
  })

  it.each([
    ['grab', 'CFE-C', true],
    ['redundant', 'FE3-B', false],
  ])(
    'chart_against_its_limit: the line %s of %s as explain shows it, and whether it signals',
    async (line, analyzer, isSignalling) => {
      const rows = await ask('chart_against_its_limit', { analyzer, line }, 5 * DAY_MS)
      const view = explainAnalyzer(state, analyzer)!.lines.find(one => one.line === line)!
      const shown = view.rows.filter(row => row.limit > 0 && row.atMs > endMs - 5 * DAY_MS)
      // A pair of units that is too alike from six hours to six hours has one value a day.
      expect(shown.length).toBeGreaterThanOrEqual(5)
      for (const side of ['high', 'low'] as const) {
        const ofSide = rows.filter(row => row.side === side)
        expect(ofSide.map(row => [row.time.getTime(), row.statistic, row.limit])).toEqual(
          shown.map(row => [row.atMs, row[side], row.limit]),
        )
      }
      expect(rows.some(row => (row.statistic as number) > (row.limit as number))).toBe(isSignalling)
    },
  )

  it('differences_of_redundant_units: one unit against the other, with opposite signs', async () => {
    const rows = await ask('differences_of_redundant_units', { point: 'FE3' }, 10 * DAY_MS)
    const of = (analyzer: string) => rows.filter(row => row.analyzer === analyzer)
    const logged = state.points.get('FE3')!.differences.filter(one => one.atMs > endMs - 10 * DAY_MS)
    expect(of('FE3-A').map(row => row.time.getTime())).toEqual(logged.map(one => one.atMs))
    expect(logged.length).toBeGreaterThan(30)
    for (const [k, row] of of('FE3-A').entries()) {
      const other = of('FE3-B')[k]!
      expect(row.differenceNtu).toBeCloseTo(-(other.differenceNtu as number), 10)
      const [a, b] = logged[k]!.deviationsNtu as [number, number]
      expect((row.fromMeanNtu as number) - (other.fromMeanNtu as number)).toBeCloseTo(a - b, 3)
    }
  })

  it('differences_to_grab_samples: the pairs that count', async () => {
    const rows = await ask('differences_to_grab_samples', { analyzer: 'CFE-A' }, 10 * DAY_MS)
    const i = plantOf().points.get('CFE')!.analyzers.indexOf('CFE-A')
    const used = state.points
      .get('CFE')!
      .pairs.filter(pair => pair.use === 'used' && pair.units[i] != null && pair.atMs > endMs - 10 * DAY_MS)
    expect(rows.map(row => [row.time.getTime(), row.referenceNtu, row.against])).toEqual(
      used.map(pair => [pair.atMs, pair.grabNtu, `grab sample ${pair.sampleId!}`]),
    )
    expect(used.length).toBeGreaterThan(30)
  })

  it('usable_share_of_each_day: whole days of 96 quarter hours, and a day on which a unit stood still shows', async () => {
    const rows = await ask('usable_share_of_each_day', { point: 'FE2' }, 8 * DAY_MS)
    const days = rows.map(row => formatInstant(row.time.getTime()))
    expect(days.every(day => day.endsWith('T00:15:00Z'))).toBe(true)
    const whole = rows.slice(1, -1)
    expect(whole.map(row => row.quarterHours)).toEqual(whole.map(() => 96))
    const { blocks } = explainAnalyzer(state, 'FE2-A')!
    for (const row of whole) {
      const fromMs = row.time.getTime() - 15 * MINUTE_MS
      const ofDay = blocks.filter(block => block.endMs > fromMs && block.endMs <= fromMs + DAY_MS)
      const share = ofDay.filter(block => block.usable).length / 96
      // What explain marks round work and backwashes is coarser by up to an hour each.
      expect(Math.abs((row.usableShare as number) - share)).toBeLessThan(0.15)
    }
    // FE2-A repeats one value from 16 April 04:00 for 28.5 hours (sample-streams/truth.json).
    const shares = new Map(rows.map(row => [formatInstant(row.time.getTime()).slice(0, 10), row.usableShare as number]))
    expect(shares.get('2026-04-16')).toBeCloseTo(4 / 24, 1)
    expect(shares.get('2026-04-17')).toBeLessThan(15.5 / 24)
    expect(shares.get('2026-04-18')).toBeGreaterThan(15.5 / 24)
  })

  it('readings_of_an_analyzer: a quarter hour after the other, with why one does not count', async () => {
    const rows = await ask('readings_of_an_analyzer', { analyzer: 'FE2-A' }, 8 * DAY_MS)
    expect(rows).toHaveLength(8 * 96)
    expect(new Set(rows.map(row => row.use))).toContain('stuck')
    const { blocks } = explainAnalyzer(state, 'FE2-A')!
    const medians = new Map(rows.map(row => [row.time.getTime(), row.medianNtu]))
    for (const { endMs: atMs, medianNtu } of blocks.filter(block => block.endMs > endMs - 8 * DAY_MS)) {
      expect(medians.get(atMs)).toBe(medianNtu)
    }
  })

  it('annotations: each request and finding of the window with its sentence, oldest first', async () => {
    const rows = await ask('annotations', {}, 6 * DAY_MS)
    const told = events.filter(
      ({ type }) => type !== 'analyzer.status' && type !== 'shift.summary' && type !== 'message.rejected',
    )
    const inWindow = told.filter(event => within(event, 6 * DAY_MS))
    const byText = ([one]: readonly unknown[], [other]: readonly unknown[]) => (String(one) < String(other) ? -1 : 1)
    expect(rows.map(row => [row.text, row.type]).sort(byText)).toEqual(
      inWindow.map(event => [event.data.summary, event.type]).sort(byText),
    )
    const times = rows.map(row => row.time.getTime())
    expect(times).toEqual([...times].sort((a, b) => a - b))
    const opened = rows.filter(row => row.type === 'recommendation.opened')
    expect(opened.map(row => row.analyzer)).toEqual(expect.arrayContaining(['CFE-C', 'FE3-B']))
    const own = await ask('annotations_of_an_analyzer', { analyzer: 'FE3-B' }, 6 * DAY_MS)
    expect(own.map(row => row.text)).toEqual(rows.filter(row => row.analyzer === 'FE3-B').map(row => row.text))
  })

  it('makes no more series than stated, and asks each text that is shipped', async () => {
    const series = await client.query<{ key: string }>('SHOW SERIES')
    const [analyzers, points] = [plantOf().analyzers.size, plantOf().points.size]
    expect(series.length).toBeGreaterThan(50)
    expect(series.length).toBeLessThanOrEqual(11 * analyzers + 12 * (analyzers + points + 1))
    expect([...asked].sort()).toEqual([...queries.keys()].sort())
  })
})
