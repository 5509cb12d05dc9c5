import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { advanceCusum } from '../../src/statistics/cusum.js'
import { cappedArl, oneSidedArl, twoSidedArl, type OneSidedChart } from '../../src/statistics/cusumRunLength.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_303, numRuns: 40 } // the seed only pins the generated cases
const chart = fc.record({
  k: fc.double({ min: 0.05, max: 6, noNaN: true }),
  h: fc.double({ min: 0.3, max: 20, noNaN: true }),
  shift: fc.double({ min: -3, max: 3, noNaN: true }),
})

describe('run lengths', () => {
  it('are at least one and never NaN', () => {
    fc.assert(
      fc.property(chart, fc.double({ min: 0.05, max: 1.5, noNaN: true }), (c, capFraction) => {
        for (const arl of [oneSidedArl(c), twoSidedArl(c), cappedArl({ ...c, cap: c.h * capFraction })])
          expect(arl).toBeGreaterThanOrEqual(1)
      }),
      runs,
    )
  })

  it('grow with the limit and fall with the shift', () => {
    fc.assert(
      fc.property(chart, c => {
        const allowance = 1 - 1e-8
        for (const arlOf of [oneSidedArl, (x: OneSidedChart) => cappedArl({ ...x, cap: x.h / 2.5 })]) {
          expect(arlOf({ ...c, h: c.h + 0.2 })).toBeGreaterThanOrEqual(arlOf(c) * allowance)
          expect(arlOf({ ...c, shift: c.shift - 0.1 })).toBeGreaterThanOrEqual(arlOf(c) * allowance)
        }
      }),
      runs,
    )
  })

  it('are not shortened by a cap, and not changed by a cap above the limit', () => {
    fc.assert(
      fc.property(chart, c => {
        const free = oneSidedArl(c)
        expect(cappedArl({ ...c, cap: c.h / 2.5 })).toBeGreaterThanOrEqual(free * (1 - 1e-8))
        expect(cappedArl({ ...c, cap: c.h * 1.01 })).toBe(free)
      }),
      runs,
    )
  })

  it('grow with the reference value', () => {
    fc.assert(
      fc.property(chart, fc.boolean(), (c, isCapped) => {
        const cap = isCapped ? c.h / 2.5 : Infinity
        for (const arlOf of [cappedArl, twoSidedArl])
          expect(arlOf({ ...c, cap, k: c.k + 0.1 })).toBeGreaterThanOrEqual(arlOf({ ...c, cap }) * (1 - 1e-8))
      }),
      runs,
    )
  })

  it('of two sides are those of the faster side at most, and half of them at least without a head start', () => {
    fc.assert(
      fc.property(chart, fc.double({ min: 0, max: 0.5, noNaN: true }), (c, headStartFraction) => {
        const both = { ...c, cap: c.h / 2.5, headStart: c.h * headStartFraction }
        const faster = Math.min(cappedArl(both), cappedArl({ ...both, shift: -c.shift }))
        const arl = twoSidedArl(both)
        expect(arl).toBeLessThanOrEqual(faster * (1 + 1e-8))
        const fromZero = twoSidedArl({ ...both, headStart: 0 })
        expect(arl).toBeLessThanOrEqual(fromZero * (1 + 1e-8))
        expect(fromZero).toBeGreaterThanOrEqual((faster / 2) * (1 - 1e-8))
      }),
      runs,
    )
  })

  it('depend on k and shift by their difference only', () => {
    fc.assert(
      fc.property(chart, c => {
        const moved = oneSidedArl({ ...c, k: c.k + 0.5, shift: c.shift + 0.5 })
        const arl = oneSidedArl(c)
        expect(moved === arl || Math.abs(moved / arl - 1) < 1e-9).toBe(true)
      }),
      runs,
    )
  })

  it('are shortened by a head start, and a start at the limit leaves almost none', () => {
    fc.assert(
      fc.property(chart, c => {
        const free = cappedArl({ ...c, cap: c.h / 2.5 })
        expect(cappedArl({ ...c, cap: c.h / 2.5, headStart: c.h * 0.15 })).toBeLessThanOrEqual(free * (1 + 1e-8))
      }),
      runs,
    )
    expect(oneSidedArl({ k: 0.5, h: 4, shift: 3, headStart: 4 })).toBeCloseTo(1.0063, 3) // about 1 + Φ(−2.5)
  })

  it('count the steps a certain input needs: three with a cap of h/2.5', () => {
    expect(cappedArl({ k: 1, h: 5, shift: 30, cap: 2 })).toBeCloseTo(3, 12)
    expect(cappedArl({ k: 1, h: 4, shift: 30, cap: 2 })).toBeCloseTo(3, 12) // twice the cap is not above h
    expect(oneSidedArl({ k: 1, h: 5, shift: 30 })).toBeCloseTo(1, 12)
  })

  it('are endless, not wrong, where no signal is to be expected', () => {
    expect(oneSidedArl({ k: 1, h: 5, shift: -45 })).toBe(Infinity)
    expect(cappedArl({ k: 6, h: 15, shift: 0, cap: 6 })).toBe(Infinity)
    expect(twoSidedArl({ k: 6, h: 15, shift: 0 })).toBe(Infinity)
    expect(twoSidedArl({ k: 6, h: 5, shift: 20 })).toBeCloseTo(1, 6)
  })

  it('refuses charts that are none, naming the value', () => {
    expect(() => oneSidedArl({ k: 0.5, h: 0, shift: 0 })).toThrow(/h must be a finite number above 0, got 0/)
    expect(() => oneSidedArl({ k: NaN, h: 4, shift: 0 })).toThrow(/k must be a finite number, got NaN/)
    expect(() => oneSidedArl({ k: 0.5, h: 4, shift: 0, headStart: 5 })).toThrow(/headStart must be from 0 to h, got 5/)
    expect(() => cappedArl({ k: 0.5, h: 4, shift: 0, cap: 0 })).toThrow(/cap must be above 0, got 0/)
    expect(() => twoSidedArl({ k: -0.1, h: 4, shift: 0 })).toThrow(/k of a two-sided chart must be 0 or more, got -0.1/)
    expect(() => twoSidedArl({ k: 0.5, h: 4, shift: 0, headStart: 2.6 })).toThrow(/at most h\/2 \+ k, got 2.6/)
  })
})

// The chart itself, run on seeded values; the seed pins the sample, the bound is 4 standard errors.
describe('run lengths against a simulated chart', () => {
  it.each([
    { k: 0.5, h: 3, shift: 0, headStart: 0, repeats: 8000 },
    { k: 0.875, h: 2.2, shift: 0, headStart: 0.33, repeats: 4000 },
    { k: 0.5, h: 4, shift: 1, headStart: 0.6, repeats: 20_000 },
    { k: 1, h: 3.5, shift: 0.5, headStart: 1.75, repeats: 4000 },
  ])('capped at h/2.5: k $k h $h shift $shift head start $headStart', ({ repeats, ...chart }) => {
    const cap = chart.h / 2.5
    const normal = normalSource(7)
    let sum = 0
    let sumOfSquares = 0
    for (let run = 0; run < repeats; run++) {
      let n = 0
      for (let s = chart.headStart; s <= chart.h; n++) s = advanceCusum(s, normal() + chart.shift - chart.k, cap)
      sum += n
      sumOfSquares += n * n
    }
    const mean = sum / repeats
    const standardError = Math.sqrt((sumOfSquares / repeats - mean * mean) / repeats)
    expect(Math.abs(cappedArl({ ...chart, cap }) - mean)).toBeLessThan(4 * standardError)
  })
})
