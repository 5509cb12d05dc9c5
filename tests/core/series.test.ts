import { describe, expect, it } from 'vitest'
import type { EventType } from '../../src/model/vocabulary.js'
import { explainAnalyzer } from '../../src/core/explain.js'
import type { Explanation, LineRow } from '../../src/core/explanation.js'
import type { PlantState } from '../../src/core/plantState.js'
import { seriesPoint, type SeriesPoint } from '../../src/core/series.js'
import { toldSeries } from '../../src/core/seriesTold.js'
import { createPlantState } from '../../src/core/step.js'
import type { FindingData, PlantEvent } from '../../src/model/events.js'
import { resolvePlant } from '../../src/model/plant.js'
import { DAY_MS, formatInstant, HOUR_MS } from '../../src/model/time.js'
import { BUSY_REGISTER, busyStream, closing } from './support/busyStream.js'
import { stateText } from './support/fold.js'
import { lineOf, messagesOf, run, withTicks } from './support/run.js'
import { sampleMessages, sampleRegister } from './support/sample.js'
import { keyOf, type SeriesRun, seriesRun } from './support/seriesRun.js'
import { at, prompt, work } from './support/stream.js'

const DAYS = 17
const EVERY_MS = 4 * DAY_MS + 5 * HOUR_MS

/** Explanations at some instants of the sample stream, each with the points as they stood then. */
function lookAtSample(): { readonly run: SeriesRun; readonly looks: readonly Look[] } {
  const looks: Look[] = []
  let dueMs = Date.parse('2026-04-01T00:00:00Z') + EVERY_MS
  const between = (state: PlantState, points: SeriesRun['latest']) => {
    if (state.workedMs < dueMs) return
    dueMs += EVERY_MS
    for (const analyzer of state.register!.plant.analyzers.keys()) {
      looks.push({ explanation: explainAnalyzer(state, analyzer)!, points: new Map(points), workedMs: state.workedMs })
    }
  }
  const run = seriesRun(sampleMessages(DAYS), { register: sampleRegister(), ticks: 'event', between })
  return { run, looks }
}

interface Look {
  readonly explanation: Explanation
  readonly points: SeriesRun['latest']
  readonly workedMs: number
}

describe('points of the sample stream beside what explain says', () => {
  const { run, looks } = lookAtSample()
  const { points: places } = sampleRegister()
  const placeOf = ({ explanation: { plant, point, analyzer } }: Look) => ({
    plant,
    area: places[point]!.area,
    point,
    analyzer,
  })

  it('has something to compare', () => {
    expect(looks.length).toBeGreaterThanOrEqual(3 * 16)
  })

  it('has every block that explain shows, with its median', () => {
    let compared = 0
    for (const look of looks) {
      for (const { endMs, medianNtu, usable } of look.explanation.blocks) {
        const point = look.points.get(keyOf('turbidity_block', placeOf(look), endMs))
        expect(point?.fields.medianNtu).toBe(medianNtu)
        // What explain marks round work is coarser; where it shows a block as usable the points agree.
        if (usable && point?.fields.usable === 0) expect(point.fields.use).not.toBe('used')
        compared += 1
      }
    }
    expect(compared).toBeGreaterThan(20_000)
  })

  it('has each value of the charts, with its limit, on both sides', () => {
    let compared = 0
    for (const look of looks) {
      for (const { line, rows } of look.explanation.lines) {
        for (const row of rows) {
          if (row.limit === 0) continue
          for (const side of ['high', 'low'] as const) {
            const point = look.points.get(keyOf('turbidity_chart', { ...placeOf(look), line, side }, row.atMs))
            expect(point?.fields).toMatchObject({ statistic: row[side], limit: row.limit })
            compared += 1
          }
        }
      }
    }
    expect(compared).toBeGreaterThan(2_000)
  })

  it('has the differences: of redundant units all, of grab samples the newest, before the laboratory’s offset moves on', () => {
    let compared = 0
    for (const look of looks) {
      for (const { line, rows } of look.explanation.lines) {
        const newest = line === 'grab' ? rows.slice(-1) : rows
        for (const row of newest) {
          expect(differenceAt(look, line, row)).toEqual([row.ofTolerance, row.uOfTolerance])
          compared += 1
        }
      }
    }
    expect(compared).toBeGreaterThan(500)
  })

  function differenceAt(look: Look, line: string, row: LineRow) {
    const fields = look.points.get(keyOf('turbidity_difference', { ...placeOf(look), line }, row.atMs))?.fields
    return [fields?.differenceOfTolerance, fields?.standardUncertaintyOfTolerance]
  }

  it('has the bias with its interval as the status tells it, or none where the status has none', () => {
    const biases = looks.map(look => {
      const { bias, assessment } = look.explanation.status
      const newest = [...look.points.values()].findLast(
        one => one.measurement === 'turbidity_status' && one.tags.analyzer === look.explanation.analyzer,
      )
      expect(newest?.fields.assessment).toBe(assessment)
      expect([newest?.fields.biasNtu, newest?.fields.ci95LowNtu, newest?.fields.ci95HighNtu]).toEqual([
        bias?.ntu,
        bias?.ci95[0],
        bias?.ci95[1],
      ])
      expect(newest?.fields.ci95HighOfTolerance).toBe(bias?.ofToleranceCi95[1])
      return bias
    })
    expect(biases.filter(bias => bias !== undefined).length).toBeGreaterThan(20)
    expect(biases).toContain(undefined)
  })

  it('makes one annotation of each request, finding, doubt and verdict, with its sentence', () => {
    const silent: readonly EventType[] = ['analyzer.status', 'shift.summary', 'message.rejected']
    const told = run.events.filter(event => !silent.includes(event.type))
    const annotations = [...run.latest.values()].filter(one => one.measurement === 'turbidity_annotation')
    expect(annotations.map(one => [one.tags.type, one.fields.text])).toEqual(
      told.map(event => [event.type, event.data.summary]),
    )
    expect(new Set(told.map(event => event.type))).toContain('recommendation.opened')
    const opened = annotations.find(one => one.tags.type === 'recommendation.opened')
    expect(opened?.fields.recommendation).toMatch(/^[0-9a-f-]{36}$/)
    expect(Object.values(opened?.tags ?? {})).not.toContain(opened?.fields.recommendation)
  })

  it('stays within the number of series it states', () => {
    const series = new Set([...run.latest.values()].map(one => `${one.measurement} ${JSON.stringify(one.tags)}`))
    const [analyzers, points] = [16, 11]
    expect(series.size).toBeLessThanOrEqual(11 * analyzers + 12 * (analyzers + points + 1))
  })
})

describe('points and the way messages come', () => {
  const stream = [...busyStream(3), ...closing(BUSY_REGISTER, at(5))]
  const textOf = (point: SeriesPoint) => JSON.stringify(point)
  const latestOf = (run: SeriesRun) => [...run.latest.values()].map(textOf)
  /** Some of those that stand on one side only: a whole list would be longer than anybody reads. */
  const unlike = (found: readonly string[], expected: readonly string[]) => {
    const [had, has] = [new Set(expected), new Set(found)]
    return [...expected.filter(one => !has.has(one)), ...found.filter(one => !had.has(one))].slice(0, 8)
  }

  it('are the same however far apart the ticks are', () => {
    const often = seriesRun(withTicks(stream), { register: BUSY_REGISTER, ticks: 'recorded' })
    const seldom = seriesRun(withTicks(stream, HOUR_MS), { register: BUSY_REGISTER, ticks: 'recorded' })
    expect(unlike(latestOf(seldom), latestOf(often))).toEqual([])
  })

  it('are the same, in the same order, when the same inputs are walked again', () => {
    const [first, second] = [1, 2].map(() =>
      seriesRun(withTicks(stream), { register: BUSY_REGISTER, ticks: 'recorded' }),
    )
    expect(unlike(second!.all.map(textOf), first!.all.map(textOf))).toEqual([])
    expect(second!.all.findIndex((one, i) => textOf(one) !== textOf(first!.all[i]!))).toBe(-1)
  })

  it('leave events and state as they are without anybody who looks on', () => {
    const watched = seriesRun(withTicks(stream), { register: BUSY_REGISTER, ticks: 'recorded' })
    const alone = run(messagesOf(withTicks(stream)), { register: BUSY_REGISTER, ticks: 'recorded' })
    expect(watched.events.map(lineOf)).toEqual(alone.events.map(lineOf))
    expect(stateText(watched.state) === stateText(alone.state)).toBe(true)
  })

  it('are put right by a late fact, under the same tags and time', () => {
    const untilMs = at(2, 13)
    const late = { ...prompt(at(2, 10), work('FE1-A', at(2, 10), 'maintenance_on', { id: 'late' })), comesMs: untilMs }
    const before = stream.filter(one => one.comesMs < untilMs)
    const punctual = seriesRun(withTicks(before), { register: BUSY_REGISTER, ticks: 'recorded' })
    const corrected = seriesRun(withTicks([...before, late]), { register: BUSY_REGISTER, ticks: 'recorded' })
    const tags = { plant: BUSY_REGISTER.plant, point: 'FE1', analyzer: 'FE1-A' }
    const use = (run: SeriesRun, atMs: number) => run.latest.get(keyOf('turbidity_block', tags, atMs))?.fields.use
    expect([use(punctual, at(2, 9, 45)), use(corrected, at(2, 9, 45))]).toEqual(['used', 'used'])
    expect([use(punctual, at(2, 11)), use(corrected, at(2, 11))]).toEqual(['used', 'maintenance'])
  })
})

describe('what a point is made of', () => {
  it('leaves out what is not known: NaN, infinities, undefined, empty tags', () => {
    const fields = { medianNtu: NaN, spreadNtu: Infinity, readings: 0, bubbleShare: undefined, use: '' }
    expect(seriesPoint('turbidity_block', { plant: 'p', area: '', point: undefined }, 5, fields)).toEqual({
      measurement: 'turbidity_block',
      tags: { plant: 'p' },
      fields: { readings: 0, use: '' },
      atMs: 5,
    })
    expect(seriesPoint('turbidity_block', { plant: 'p' }, 5, { medianNtu: NaN })).toBeUndefined()
  })

  it('parts two annotations of one kind, place and instant by a millisecond', () => {
    const finding = (what: FindingData['finding']): PlantEvent => ({
      id: what,
      type: 'analyzer.finding',
      source: 'hollin-weir',
      subject: 'CFE-A',
      time: formatInstant(at(1)),
      data: {
        summary: `${what} began`,
        notify: 'at_once',
        analyzer: 'CFE-A',
        point: 'CFE',
        finding: what,
        phase: 'began',
        since: formatInstant(at(1)),
        detail: {},
      },
    })
    const plant = resolvePlant(BUSY_REGISTER)
    const points = toldSeries(createPlantState('p'), plant, [finding('stuck'), finding('no_flow')])
    expect(points.map(one => [one.atMs, one.fields.finding])).toEqual([
      [at(1), 'stuck'],
      [at(1) + 1, 'no_flow'],
    ])
  })
})
