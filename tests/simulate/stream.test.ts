import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { checkRegister } from '../../src/model/checkRegister.js'
import { decodeMessage } from '../../src/model/decode.js'
import type { Grab, Reading, Work } from '../../src/model/messages.js'
import { resolvePlant } from '../../src/model/plant.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { simulatePlant } from '../../src/simulate/simulatePlant.js'

const simulation = simulatePlant({ seed: 3 })
const { truth } = simulation
const checked = checkRegister(parse(simulation.registerYaml))
const lines = [...simulation.messages]
const decoded = lines.map(line => decodeMessage(JSON.parse(line)))
const messages = decoded.flatMap(each => (each.ok ? [each.message] : []))
const readings = messages.filter((message): message is Reading => message.kind === 'reading')
const grabs = messages.filter((message): message is Grab => message.kind === 'grab')
const works = messages.filter((message): message is Work => message.kind === 'work')
const startMs = Date.parse(truth.start)
const measuredBy = new Map<string, Reading[]>()
for (const reading of readings) {
  if (reading.state !== undefined) continue
  const own = measuredBy.get(reading.analyzer)
  if (own === undefined) measuredBy.set(reading.analyzer, [reading])
  else own.push(reading)
}

describe('register of the invented plant', () => {
  it('passes the check without a warning, as text and as data', () => {
    expect(checked).toMatchObject({ ok: true, warnings: [] })
    expect(checkRegister(simulation.register)).toMatchObject({ ok: true, file: parse(simulation.registerYaml) })
  })

  it('declares fifteen analyzers and the points and tolerances of the scenario', () => {
    if (!checked.ok) throw new Error('register refused')
    const plant = resolvePlant(checked.file)
    expect(plant.analyzers.size).toBe(15)
    expect(plant.points.get('CFE')).toMatchObject({
      regulated: true,
      actionLevelsNtu: [0.3],
      tolerance: { absoluteNtu: 0.05, relative: 0.1 },
      lowIsWorse: true,
    })
    expect(plant.points.get('SW')?.grab).toMatchObject({
      standardUncertaintyNtu: 0.02,
      relative: 0.02,
      sharedStandardUncertaintyNtu: 0.02,
      perDay: 2,
    })
    const spanned = plant.standards.flatMap(({ type, analyzer }) => (type === 'secondary_standard' ? [analyzer] : []))
    expect(new Set(spanned)).toEqual(new Set(plant.analyzers.keys()))
  })
})

describe('stream of the invented plant', () => {
  it('decodes to the last line, with no field nobody knows', () => {
    expect(decoded.filter(each => !each.ok)).toEqual([])
    expect(decoded.flatMap(each => (each.ok ? each.ignored : []))).toEqual([])
    expect(readings.length).toBeGreaterThan(255_000)
    expect(readings.length).toBeLessThan(265_000)
  })

  it('carries nothing but what a plant sends', () => {
    expect([...new Set(messages.map(message => message.kind))].sort()).toEqual([
      'grab',
      'laboratory_check',
      'process',
      'reading',
      'work',
    ])
  })

  it('brings no reading later than the lateness declared', () => {
    let newestMs = 0
    let latestMs = 0
    for (const reading of readings) {
      newestMs = Math.max(newestMs, reading.atMs)
      latestMs = Math.max(latestMs, newestMs - reading.atMs)
    }
    expect(latestMs).toBeGreaterThan(30_000)
    expect(latestMs).toBeLessThanOrEqual(truth.latestReadingS * 1_000)
  })

  it('repeats some lines, contradicts itself a few times, and loses some readings', () => {
    const values = new Map<string, Set<number>>()
    for (const { analyzer, atMs, value } of readings) {
      const key = `${analyzer} ${atMs}`
      values.set(key, (values.get(key) ?? new Set()).add(value))
    }
    const conflicts = [...values.values()].filter(seen => seen.size > 1).length
    expect(conflicts).toBeGreaterThan(0)
    expect(conflicts).toBeLessThan(20)
    const repeats = readings.length - values.size - conflicts
    expect(repeats / readings.length).toBeGreaterThan(0.002)
    expect(repeats / readings.length).toBeLessThan(0.004)
    expect(values.size).toBeLessThan(15 * 288 * 60)
    expect(values.size).toBeGreaterThan(0.998 * 15 * 288 * 60)
  })

  it('rounds to the resolution in the register', () => {
    if (!checked.ok) throw new Error('register refused')
    const plant = resolvePlant(checked.file)
    for (const { analyzer, value } of readings) {
      const steps = value / plant.analyzers.get(analyzer)!.resolutionNtu
      if (Math.abs(steps - Math.round(steps)) > 1e-6) throw new Error(`${analyzer} sent ${value}`)
    }
    for (const { point, value, qualifier } of grabs) {
      const steps = value / plant.points.get(point)!.grab.resolutionNtu
      if (qualifier === undefined && Math.abs(steps - Math.round(steps)) > 1e-6)
        throw new Error(`${point} reported ${value}`)
    }
  })

  it('keeps the grab plan, and hands results in one to four hours later', () => {
    const perDay = (point: string): number => grabs.filter(grab => grab.point === point).length / 60
    expect(perDay('CFE')).toBeCloseTo(4, 0)
    for (const point of ['FE3', 'CW', 'SW']) expect(perDay(point)).toBeCloseTo(2, 0)
    for (const point of ['FE1', 'FE2', 'FE4', 'FE5', 'FE6', 'RW']) expect(perDay(point)).toBeCloseTo(1, 0)
    expect(perDay('BW')).toBe(0)
    for (const grab of grabs) {
      expect(grab.reportedMs! - grab.sampledMs).toBeGreaterThanOrEqual(HOUR_MS)
      expect(grab.reportedMs! - grab.sampledMs).toBeLessThanOrEqual(4 * HOUR_MS)
    }
    expect(grabs.some(grab => grab.point === 'FE1' && grab.qualifier === '<' && grab.value === 0.02)).toBe(true)
  })

  it('marks the readings of every visit, between the records of its begin and end', () => {
    const starts = works.filter(work => work.action === 'maintenance_on')
    const ends = works.filter(work => work.action === 'maintenance_off')
    expect(starts).toHaveLength(11)
    expect(ends).toHaveLength(11)
    const visits = starts.map(start => ({
      analyzer: start.analyzer,
      fromMs: start.atMs,
      toMs: ends.find(end => end.visit === start.visit)!.atMs,
    }))
    for (const reading of readings) {
      const inVisit = visits.some(
        visit => visit.analyzer === reading.analyzer && reading.atMs >= visit.fromMs && reading.atMs < visit.toMs,
      )
      if (inVisit !== (reading.state !== undefined))
        throw new Error(`${reading.analyzer} at ${reading.atMs}: ${reading.state ?? 'measuring'}`)
    }
  })
})

describe('what happens in the stream', () => {
  it('FE2-A repeats one value for 28 h across a backwash', () => {
    const fault = faultTimes('fe2-stuck')
    const held = readings.filter(
      each => each.analyzer === 'FE2-A' && each.atMs >= fault.fromMs && each.atMs < fault.toMs,
    )
    expect(new Set(held.map(each => each.value)).size).toBe(1)
    expect(held.at(-1)!.atMs - held[0]!.atMs).toBeGreaterThan(27.8 * HOUR_MS)
    expect(
      messages.some(
        message =>
          message.kind === 'process' &&
          message.point === 'FE2' &&
          message.state === 'backwash' &&
          message.atMs > fault.fromMs &&
          message.atMs < fault.toMs,
      ),
    ).toBe(true)
  })

  it('the first storm passes through the works, weaker at each stage', () => {
    const { fromMs } = faultTimes('storm-1')
    const rise = (analyzer: string, afterH: number): number =>
      medianOf(analyzer, fromMs + afterH * HOUR_MS, fromMs + (afterH + 6) * HOUR_MS) /
      medianOf(analyzer, fromMs - 12 * HOUR_MS, fromMs)
    expect(rise('RW-A', 3)).toBeGreaterThan(4)
    expect(rise('RW-B', 3)).toBeCloseTo(rise('RW-A', 3), 0)
    expect(rise('SW-A', 10)).toBeGreaterThan(1.25)
    expect(rise('SW-A', 10)).toBeLessThan(2.2)
    expect(rise('CFE-B', 15)).toBeGreaterThan(1.05)
    expect(rise('CFE-B', 15)).toBeLessThan(1.5)
    const steep = grabs.find(
      grab => grab.point === 'RW' && grab.sampledMs > fromMs + HOUR_MS && grab.sampledMs < fromMs + 3 * HOUR_MS,
    )
    expect(steep?.value).toBeGreaterThan(50)
  })

  it('SW-A drops by what the film added when it is cleaned, and the crew saw it', () => {
    const { toMs } = faultTimes('swa-fouling')
    const cleaned = works.find(work => work.analyzer === 'SW-A' && work.action === 'cleaned')!
    const film = cleaned.asFound! - cleaned.asFoundClean!
    expect(film).toBeGreaterThan(0.22)
    expect(film).toBeLessThan(0.34)
    const drop =
      medianOf('SW-A', toMs - 3 * HOUR_MS, toMs - HOUR_MS) - medianOf('SW-A', toMs + HOUR_MS, toMs + 3 * HOUR_MS)
    expect(Math.abs(drop - film)).toBeLessThan(0.1)
  })

  it('RW-B reports a light source that goes to about 82 % and a new one after the work', () => {
    const { toMs } = faultTimes('rwb-light-source')
    const level = (fromMs: number): number =>
      readings.find(each => each.analyzer === 'RW-B' && each.atMs >= fromMs)!.lightSourcePct!
    expect(level(startMs)).toBe(100)
    expect(Math.abs(level(toMs - 2 * HOUR_MS) - 82)).toBeLessThan(1.5)
    expect(level(toMs)).toBe(100)
  })

  it('FE5-A spikes upward in about a fifth of its readings while the pump draws air', () => {
    const { fromMs, toMs } = faultTimes('fe5-bubbles')
    const share = (from: number, to: number): number => {
      const values = measured('FE5-A', from, to)
      const middle = medianOf('FE5-A', from, to)
      return values.filter(value => value > middle + 0.03).length / values.length
    }
    // Restarts after backwashes raise a few more.
    expect(share(fromMs, toMs)).toBeGreaterThan(0.17)
    expect(share(fromMs, toMs)).toBeLessThan(0.29)
    expect(share(fromMs - 5 * DAY_MS, fromMs)).toBeLessThan(0.05)
  })

  it('CFE has one result that no unit shares', () => {
    const fault = truth.faults.find(each => each.id === 'cfe-bad-grab')!
    const bad = grabs.find(grab => grab.sampleId === fault.mustSay[0]!.sampleId)!
    expect(bad.point).toBe('CFE')
    expect(bad.value).toBeGreaterThan(0.35)
    expect(medianOf('CFE-B', bad.sampledMs - HOUR_MS, bad.sampledMs + HOUR_MS)).toBeLessThan(0.12)
  })

  it('FE6-A falls by the turbidity of its zero water', () => {
    const { fromMs } = faultTimes('fe6-zeroed-on-turbid-water')
    const fall =
      medianOf('FE6-A', fromMs - DAY_MS, fromMs - HOUR_MS) - medianOf('FE6-A', fromMs + 2 * HOUR_MS, fromMs + DAY_MS)
    expect(fall).toBeGreaterThan(0.035)
    expect(fall).toBeLessThan(0.065)
    expect(works.find(work => work.analyzer === 'FE6-A' && work.action === 'zero')).toMatchObject({
      reference: { type: 'zero_water', assigned: 0 },
      asLeft: 0,
      accepted: true,
    })
  })

  it('CFE-A is spanned on a standard that the register gives to CFE-B', () => {
    const span = works.find(work => work.analyzer === 'CFE-A' && work.action === 'span')!
    expect(simulation.register.standards!.find(standard => standard.id === span.reference!.id)!.analyzer).toBe('CFE-B')
  })

  it('CW-A keeps most of its span step after a span recorded as good', () => {
    const first = works.find(work => work.analyzer === 'CW-A' && work.action === 'span')!
    expect(Math.abs(first.asLeft! / first.reference!.assigned - 1)).toBeLessThan(0.05)
    const ratio = (fromMs: number, toMs: number): number => grabRatio('CW', 'CW-A', fromMs, toMs)
    const { fromMs, toMs } = faultTimes('cwa-span-step')
    expect(ratio(fromMs, first.atMs)).toBeGreaterThan(1.18)
    expect(ratio(first.atMs + 2 * HOUR_MS, toMs)).toBeGreaterThan(1.1)
    expect(ratio(first.atMs + 2 * HOUR_MS, toMs)).toBeLessThan(1.2)
    expect(Math.abs(ratio(toMs + 2 * HOUR_MS, toMs + 8 * DAY_MS) - 1)).toBeLessThan(0.05)
  })

  it('all results rise above sound units in the six days of the bench instrument, and only then', () => {
    const { fromMs, toMs } = faultTimes('bench-reads-high')
    for (const [point, analyzer] of [
      ['CFE', 'CFE-B'],
      ['FE1', 'FE1-A'],
      ['RW', 'RW-A'],
    ] as const) {
      const excess = (from: number, to: number): number => meanExcess(point, analyzer, from, to)
      const level = medianOf(analyzer, fromMs, toMs)
      const change = excess(fromMs, toMs - HOUR_MS) - excess(fromMs - 14 * DAY_MS, fromMs - HOUR_MS)
      const expected = 0.05 + 0.1 * level
      expect(Math.abs(change - expected) / expected, point).toBeLessThan(0.35)
    }
  })
})

describe('simulatePlant', () => {
  it('gives the same bytes for a seed each time it is read, and others for another', () => {
    const run = (seed: number): string => [...simulatePlant({ seed, days: 3 }).messages].join('\n')
    const again = simulatePlant({ seed: 5, days: 3 })
    expect([...again.messages].join('\n')).toBe([...again.messages].join('\n'))
    expect(run(5)).toBe([...again.messages].join('\n'))
    expect(run(6)).not.toBe(run(5))
  })
})

function faultTimes(id: string): { readonly fromMs: number; readonly toMs: number } {
  const fault = truth.faults.find(each => each.id === id)!
  return { fromMs: Date.parse(fault.onset), toMs: Date.parse(fault.ends!) }
}

function measured(analyzer: string, fromMs: number, toMs: number): number[] {
  return measuredBy
    .get(analyzer)!
    .filter(each => each.atMs >= fromMs && each.atMs < toMs)
    .map(each => each.value)
}

function medianOf(analyzer: string, fromMs: number, toMs: number): number {
  const values = measured(analyzer, fromMs, toMs).sort((a, b) => a - b)
  return values[Math.floor(values.length / 2)]!
}

function pairs(
  point: string,
  analyzer: string,
  fromMs: number,
  toMs: number,
): { readonly grab: number; readonly beside: number }[] {
  return grabs
    .filter(
      grab =>
        grab.point === point &&
        grab.qualifier === undefined &&
        grab.sampledMs >= fromMs &&
        grab.sampledMs < toMs &&
        !(point === 'CFE' && grab.value > 0.35),
    )
    .map(grab => ({
      grab: grab.value,
      beside: medianOf(analyzer, grab.sampledMs - 5 * 60_000, grab.sampledMs + 6 * 60_000),
    }))
}

function grabRatio(point: string, analyzer: string, fromMs: number, toMs: number): number {
  const found = pairs(point, analyzer, fromMs, toMs)
  return found.reduce((sum, pair) => sum + pair.beside, 0) / found.reduce((sum, pair) => sum + pair.grab, 0)
}

function meanExcess(point: string, analyzer: string, fromMs: number, toMs: number): number {
  const found = pairs(point, analyzer, fromMs, toMs)
  return found.reduce((sum, pair) => sum + pair.grab - pair.beside, 0) / found.length
}
