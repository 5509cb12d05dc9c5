import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  intervalForReliability,
  reliabilityAt,
  zeroFailureRateBound,
  zeroFailureShareBound,
} from '../../src/statistics/reliability.js'

const runs = { seed: 20_260_332, numRuns: 100 } // the seed only pins the generated cases

describe('reliability', () => {
  it('falls with time, and the interval for it is its inverse', () => {
    const positive = fc.double({ min: 0.2, max: 5, noNaN: true })
    fc.assert(
      fc.property(positive, positive, fc.double({ min: 0.01, max: 0.99, noNaN: true }), (scale, shape, target) => {
        const interval = intervalForReliability({ scale, shape }, target)
        expect(reliabilityAt({ scale, shape }, interval)).toBeCloseTo(target, 12)
        expect(reliabilityAt({ scale, shape }, 2 * interval)).toBeLessThan(target)
        expect(intervalForReliability({ scale: 7 * scale, shape }, target) / interval).toBeCloseTo(7, 10)
      }),
      runs,
    )
    expect(reliabilityAt({ scale: 100, shape: 2 }, 0)).toBe(1)
    expect(reliabilityAt({ scale: 1, shape: 3 }, 1e9)).toBe(0)
  })

  it('has a bound where nothing failed that is as unlikely as it says', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 500 }), n => {
        expect((1 - zeroFailureShareBound(n, 0.9)) ** n).toBeCloseTo(0.1, 10)
        expect(Math.exp(-zeroFailureRateBound(n, 0.9) * n)).toBeCloseTo(0.1, 12)
      }),
      runs,
    )
    // The rule of three, common practice: about 3/n at 95 %.
    expect(zeroFailureShareBound(300)).toBeCloseTo(0.01, 3)
  })

  it('refuses what is out of range, naming it', () => {
    expect(() => reliabilityAt({ scale: 0, shape: 1 }, 1)).toThrow(/scale must be a finite number above 0, got 0/)
    expect(() => reliabilityAt({ scale: 1, shape: 1 }, -1)).toThrow(/time must be 0 or more, got -1/)
    expect(() => intervalForReliability({ scale: 1, shape: NaN }, 0.9)).toThrow(/shape/)
    expect(() => intervalForReliability({ scale: 1, shape: 1 }, 1)).toThrow(/target must be above 0 and below 1, got 1/)
    expect(() => zeroFailureShareBound(0)).toThrow(/n must be a finite number above 0, got 0/)
    expect(() => zeroFailureRateBound(5, 1)).toThrow(/confidence must be above 0 and below 1, got 1/)
  })
})
