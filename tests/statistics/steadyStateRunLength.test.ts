import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { cappedArl, oneSidedArl, twoSidedArl } from '../../src/statistics/cusumRunLength.js'
import { steadyStateArl, twoSidedSteadyStateArl } from '../../src/statistics/steadyStateRunLength.js'
import { advanceCusum } from '../../src/statistics/cusum.js'
import { normalSource } from './random.js'
import { simulate } from './simulatedRuns.js'

const runs = { seed: 20_260_310, numRuns: 20 } // the seed only pins the generated cases
const ALLOWANCE = 1 + 1e-8
const chart = fc.record({
  k: fc.double({ min: 0.1, max: 2, noNaN: true }),
  h: fc.double({ min: 0.3, max: 6, noNaN: true }),
  shift: fc.double({ min: -1, max: 3, noNaN: true }),
  shiftBefore: fc.double({ min: -1, max: 1, noNaN: true }),
})

describe('steady-state run lengths', () => {
  it('are at least one and at most those from zero, where a sum cannot be lower', () => {
    fc.assert(
      fc.property(chart, fc.constantFrom(0.4, Infinity), (c, capFraction) => {
        const cap = c.h * capFraction
        const steady = steadyStateArl({ ...c, cap })
        expect(steady).toBeGreaterThanOrEqual(1)
        expect(steady).toBeLessThanOrEqual(cappedArl({ ...c, cap }) * ALLOWANCE)
        const both = twoSidedSteadyStateArl({ ...c, cap })
        expect(both).toBeGreaterThanOrEqual(1)
        expect(both).toBeLessThanOrEqual(twoSidedArl({ ...c, cap }) * ALLOWANCE)
        expect(both).toBeLessThanOrEqual(steady * ALLOWANCE)
      }),
      runs,
    )
  })

  it('without a shift are what is left of a run that has been long, by simulation', () => {
    const c = { k: 0.5, h: 3, shift: 0 }
    const normal = normalSource(23)
    const beyond = simulate(8000, () => {
      let n = 0
      for (let s = 0; s <= c.h; n++) s = advanceCusum(s, normal() - c.k, Infinity)
      return n
    }).sorted.filter(n => n > 60)
    const mean = beyond.reduce((sum, n) => sum + n - 60, 0) / beyond.length
    expect(Math.abs(steadyStateArl(c) / mean - 1)).toBeLessThan(4 / Math.sqrt(beyond.length))
  })

  it('are those from zero where the sum has always been there', () => {
    const c = { k: 4, h: 2, shift: 4.2 }
    expect(steadyStateArl({ ...c, shiftBefore: -8 }) / oneSidedArl(c)).toBeCloseTo(1, 10)
  })

  it('are endless where no signal is to be expected', () => {
    expect(steadyStateArl({ k: 1, h: 50, shift: 0 })).toBe(Infinity)
    expect(twoSidedSteadyStateArl({ k: 1, h: 50, shift: 0 })).toBe(Infinity)
  })

  it('refuses what is out of range, naming the value', () => {
    expect(() => steadyStateArl({ k: 0.5, h: 4, shift: NaN })).toThrow(/shift must be a finite number, got NaN/)
    expect(() => steadyStateArl({ k: 0.5, h: 4, shift: 1, shiftBefore: NaN })).toThrow(/shiftBefore .* got NaN/)
    expect(() => steadyStateArl({ k: 0.5, h: 4, shift: 1, shiftBefore: 90 })).toThrow(/do not signal, got 90/)
    expect(() => twoSidedSteadyStateArl({ k: -1, h: 4, shift: 1 })).toThrow(/k of a two-sided chart/)
    expect(() => twoSidedSteadyStateArl({ k: 0.5, h: 4, shift: 1, cap: 0 })).toThrow(/cap must be above 0, got 0/)
  })
})

// The chart itself on seeded values: 40 without a signal, then the shift. The bound is 4 standard errors.
describe('two-sided steady-state run lengths against a simulated chart', () => {
  it.each([
    { k: 0.5, h: 3, cap: Infinity, shiftBefore: 0, shift: 0.5 },
    { k: 0.5, h: 3, cap: 1.2, shiftBefore: 0.1, shift: 0.3 },
    { k: 0.3, h: 2.5, cap: 1, shiftBefore: 0.1, shift: -1 },
  ])('k $k, h $h, cap $cap, from $shiftBefore to $shift', c => {
    const normal = normalSource(29)
    const { mean, standardError } = simulate(4000, () => {
      for (;;) {
        let high = 0
        let low = 0
        for (let n = 1; ; n++) {
          const x = normal() + (n > 40 ? c.shift : c.shiftBefore)
          high = advanceCusum(high, x - c.k, c.cap)
          low = advanceCusum(low, -x - c.k, c.cap)
          if (high <= c.h && low <= c.h) continue
          if (n > 40) return n - 40
          break
        }
      }
    })
    expect(Math.abs(twoSidedSteadyStateArl(c) - mean)).toBeLessThan(4 * standardError)
  })
})
