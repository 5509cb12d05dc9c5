import { describe, expect, it } from 'vitest'
import { DAY_MS } from '../../src/model/time.js'
import { simulatePlant } from '../../src/simulate/simulatePlant.js'
import type { FaultTruth } from '../../src/simulate/faultTruth.js'
import type { SimulationTruth } from '../../src/simulate/truth.js'

const SEEDS = [1, 2, 3, 7, 2026]
const truths = SEEDS.map(seed => simulatePlant({ seed }).truth)

describe.each(truths)('truth of seed $seed', truth => {
  it('lists all that happens, each once', () => {
    expect(truth.faults.map(fault => fault.id).sort()).toEqual([
      'bench-reads-high',
      'cfe-bad-grab',
      'cfea-wrong-standard',
      'cfec-zero-rises',
      'cwa-span-step',
      'fe2-stuck',
      'fe3b-zero-falls',
      'fe4-standing-bias',
      'fe5-bubbles',
      'fe6-zeroed-on-turbid-water',
      'rwb-light-source',
      'storm-1',
      'storm-2',
      'storm-3',
      'swa-fouling',
    ])
    expect(truth.healthyAnalyzers).toEqual(['RW-A', 'FE1-A', 'FE3-A', 'FE4-A', 'CFE-B', 'BW-A'])
  })

  it('leaves every analyzer alone except where a fault is listed', () => {
    for (const [analyzer, daily] of Object.entries(truth.biasDaily)) {
      const faults = truth.faults.filter(fault => fault.concerns.includes(analyzer))
      daily.forEach((bias, day) => {
        const active = faults.some(
          fault => dayOf(truth, fault.onset) < day + 1 && (fault.ends === null || dayOf(truth, fault.ends) > day),
        )
        if (!active) expect(Math.abs(bias), `${analyzer} on day ${day}`).toBeLessThan(0.25)
      })
    }
    expect(truth.biasDaily['FE4-A']!.every(bias => Math.abs(bias) === 0.2)).toBe(true)
  })

  it.each(['fe3b-zero-falls', 'cfec-zero-rises', 'swa-fouling', 'rwb-light-source'])(
    '%s grows past tolerance in two to four weeks, before the work',
    id => {
      const fault = faultOf(truth, id)
      const passed = dayOf(truth, fault.tolerancePassedAt!)
      const onset = dayOf(truth, fault.onset)
      expect(passed - onset).toBeGreaterThan(13)
      expect(passed - onset).toBeLessThan(28)
      expect(passed).toBeLessThan(dayOf(truth, fault.ends!))
      const daily = truth.biasDaily[fault.analyzer!]!
      expect(Math.abs(daily[Math.floor(onset) - 1]!)).toBeLessThanOrEqual(0.2)
      expect(Math.abs(daily[Math.floor(passed) - 2]!)).toBeLessThan(1)
      expect(Math.abs(daily[Math.floor(passed) + 1]!)).toBeGreaterThan(1)
      expect(Math.abs(daily[Math.floor(dayOf(truth, fault.ends!)) + 1]!)).toBeLessThan(0.25)
    },
  )

  it('passes tolerance at once where the span jumps, and not at all where nothing is biased', () => {
    const step = faultOf(truth, 'cwa-span-step')
    expect(dayOf(truth, step.tolerancePassedAt!) - dayOf(truth, step.onset)).toBeLessThan(1 / 12)
    for (const id of [
      'fe5-bubbles',
      'fe2-stuck',
      'cfea-wrong-standard',
      'fe4-standing-bias',
      'storm-1',
      'bench-reads-high',
    ]) {
      expect(faultOf(truth, id).tolerancePassedAt).toBeNull()
    }
  })

  it('expects nothing before it can be known, and gives every expectation time', () => {
    for (const fault of truth.faults) {
      for (const said of fault.mustSay) {
        expect(said.after! >= fault.onset, fault.id).toBe(true)
        expect(said.after! < said.before!, fault.id).toBe(true)
      }
    }
  })
})

describe('simulatePlant options', () => {
  it.each([
    [{ seed: 0.5 }, /seed must be a whole number, got 0.5/],
    [{ seed: 1, days: 0 }, /days must be a whole number from 1 to 400, got 0/],
    [{ seed: 1, start: '2026-02-30T00:00:00Z' }, /start must be an RFC 3339 time .* got 2026-02-30/],
  ])('%j is refused', (options, message) => {
    expect(() => simulatePlant(options)).toThrow(message)
  })

  it('leaves out what begins after a short run, and keeps the rest', () => {
    const short = simulatePlant({ seed: 7, days: 9, start: '2027-01-01T00:00:00Z' }).truth
    expect(short.faults.map(fault => fault.id)).toEqual(
      expect.arrayContaining(['fe4-standing-bias', 'cfec-zero-rises', 'storm-1']),
    )
    expect(short.faults.map(fault => fault.id)).not.toContain('cwa-span-step')
    expect(short.faults.find(fault => fault.id === 'fe4-standing-bias')!.onset).toBe('2027-01-01T00:00:00Z')
    expect(short.biasDaily['FE1-A']).toHaveLength(9)
  })
})

function faultOf(truth: SimulationTruth, id: string): FaultTruth {
  return truth.faults.find(fault => fault.id === id)!
}

function dayOf(truth: SimulationTruth, instant: string): number {
  return (Date.parse(instant) - Date.parse(truth.start)) / DAY_MS
}
