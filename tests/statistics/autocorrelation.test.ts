import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  effectiveSampleSize,
  exactEffectiveSampleSize,
  lagOneAutocorrelation,
} from '../../src/statistics/autocorrelation.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_306, numRuns: 200 } // the seed only pins the generated cases

describe('lag-one autocorrelation', () => {
  it('lies within −1 and 1 and does not change with shift and scale', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -99, max: 99 }), { minLength: 5, maxLength: 40 }), values => {
        for (const biasCorrected of [false, true]) {
          const r = lagOneAutocorrelation(values, { biasCorrected })
          expect(Math.abs(r)).toBeLessThanOrEqual(1)
          expect(
            lagOneAutocorrelation(
              values.map(x => 7 - 4 * x),
              { biasCorrected },
            ),
          ).toBeCloseTo(r, 9)
        }
      }),
      runs,
    )
  })

  it('is zero for constant and for single values, by hand −0.5 for two', () => {
    expect(lagOneAutocorrelation([4])).toBe(0)
    expect(lagOneAutocorrelation([0.05, 0.05, 0.05, 0.05, 0.05], { biasCorrected: true })).toBe(0)
    expect(lagOneAutocorrelation([1, 2])).toBe(-0.5)
  })

  // Seeded simulation: 4000 series of 56 values; standard error of the mean about 0.002.
  it.each([0, 0.4, 0.7])('loses most of its small-sample bias at phi %d', phi => {
    const normal = normalSource(11)
    let raw = 0
    let corrected = 0
    const repeats = 4000
    for (let i = 0; i < repeats; i++) {
      let x = normal()
      const series = Array.from({ length: 56 }, () => (x = phi * x + Math.sqrt(1 - phi * phi) * normal()))
      raw += lagOneAutocorrelation(series) / repeats
      corrected += lagOneAutocorrelation(series, { biasCorrected: true }) / repeats
    }
    expect(phi - raw).toBeGreaterThan(0.75 * ((1 + 4 * phi) / 56))
    expect(Math.abs(corrected - phi)).toBeLessThan(0.012)
  })

  it('refuses empty, non-finite and too short series', () => {
    expect(() => lagOneAutocorrelation([])).toThrow(/values must not be empty/)
    expect(() => lagOneAutocorrelation([1, NaN])).toThrow(/values\[1\]/)
    expect(() => lagOneAutocorrelation([1, 2, 3, 4], { biasCorrected: true })).toThrow(/five entries.*got 4/)
  })
})

describe('effective sample size', () => {
  it('refuses a correlation of one and negative counts', () => {
    expect(() => effectiveSampleSize(10, 1)).toThrow(/phi must be above -1 and below 1, got 1/)
    expect(() => effectiveSampleSize(-1, 0)).toThrow(/n must be 0 or more, got -1/)
    expect(effectiveSampleSize(0, 0.3)).toBe(0)
    expect(() => exactEffectiveSampleSize(10, -1)).toThrow(/phi must be above -1 and below 1, got -1/)
    expect(() => exactEffectiveSampleSize(2.5, 0)).toThrow(/n must be a whole number from 0 on, got 2.5/)
    expect(exactEffectiveSampleSize(0, 0.3)).toBe(0)
  })

  it('is by hand 1 for one value and 2/(1 + phi) for two', () => {
    expect(exactEffectiveSampleSize(1, 0.9)).toBe(1)
    expect(exactEffectiveSampleSize(2, 0.6)).toBeCloseTo(1.25, 14)
    expect(exactEffectiveSampleSize(2, -0.5)).toBeCloseTo(4, 14)
  })

  it('lies between one and n for positive correlation, above n for negative, and comes to the simple form', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 500 }), fc.double({ min: -0.99, max: 0.99, noNaN: true }), (n, phi) => {
        const exact = exactEffectiveSampleSize(n, phi)
        if (phi >= 0) {
          expect(exact).toBeGreaterThanOrEqual(1 - 1e-12)
          expect(exact).toBeLessThanOrEqual(n * (1 + 1e-12))
          expect(exact).toBeGreaterThanOrEqual(effectiveSampleSize(n, phi) * (1 - 1e-12))
        } else expect(exact).toBeGreaterThanOrEqual(n * (1 - 1e-12))
        const many = 1_000_000
        expect(exactEffectiveSampleSize(many, phi) / effectiveSampleSize(many, phi)).toBeCloseTo(1, 3)
      }),
      runs,
    )
  })
})
