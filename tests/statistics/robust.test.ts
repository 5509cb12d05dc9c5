import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { hampelOutliers } from '../../src/statistics/hampel.js'
import { MAD_TO_SIGMA, madSigma, median, medianAbsoluteDeviation, quantile } from '../../src/statistics/robust.js'
import { normalQuantile } from '../../src/statistics/distributions.js'

const runs = { seed: 20_260_301, numRuns: 200 } // the seed only pins the generated cases

const sample = fc.array(fc.integer({ min: -5000, max: 5000 }), { minLength: 1, maxLength: 40 })

describe('robust statistics', () => {
  it('is equivariant under shift and scale', () => {
    fc.assert(
      fc.property(sample, fc.integer({ min: -100, max: 100 }), fc.integer({ min: 1, max: 64 }), (values, a, b) => {
        const moved = values.map(x => a + b * x)
        expect(median(moved)).toBe(a + b * median(values))
        expect(medianAbsoluteDeviation(moved)).toBe(b * medianAbsoluteDeviation(values))
        expect(quantile(moved, 0.3)).toBeCloseTo(a + b * quantile(values, 0.3), 6)
      }),
      runs,
    )
  })

  it('takes any order and changes nothing it was given', () => {
    fc.assert(
      fc.property(sample, values => {
        const before = [...values]
        const sorted = Float64Array.from(values).sort()
        expect(median(values)).toBe(median(sorted))
        expect(madSigma(values)).toBe(madSigma(sorted))
        expect(values).toEqual(before)
      }),
      runs,
    )
  })

  it('has quantiles that rise from the least to the greatest value', () => {
    fc.assert(
      fc.property(sample, values => {
        const probabilities = [0, 0.1, 0.25, 0.5, 0.75, 0.9, 1]
        const quantiles = probabilities.map(p => quantile(values, p))
        expect(quantiles).toEqual([...quantiles].sort((a, b) => a - b))
        expect(quantiles[0]).toBe(Math.min(...values))
        expect(quantiles.at(-1)).toBe(Math.max(...values))
        expect(quantiles[3]).toBe(median(values))
      }),
      runs,
    )
  })

  it('handles one, two and equal values', () => {
    expect(median([7])).toBe(7)
    expect(madSigma([7])).toBe(0)
    expect(median([1, 4])).toBe(2.5)
    expect(madSigma([1, 4])).toBe(1.5 * MAD_TO_SIGMA)
    expect(madSigma([3, 3, 3, 3, 9])).toBe(0)
    expect(1 / normalQuantile(0.75)).toBeCloseTo(MAD_TO_SIGMA, 14)
  })

  it('refuses empty and non-finite input, naming it', () => {
    expect(() => median([])).toThrow(/values must not be empty/)
    expect(() => median([1, NaN])).toThrow(/values\[1\] must be a finite number, got NaN/)
    expect(() => madSigma([Infinity])).toThrow(RangeError)
    expect(() => quantile([1, 2], 1.5)).toThrow(/p must be a probability from 0 to 1, got 1.5/)
    expect(() => quantile([1, 2], NaN)).toThrow(RangeError)
  })
})

describe('Hampel identifier', () => {
  it('falls back to the resolution step when over half of the values are equal', () => {
    const found = hampelOutliers([0.05, 0.05, 0.05, 0.05, 0.051, 0.09, 0.01], 3.5, 0.001)
    expect(found.sigma).toBe(0.001)
    expect(found.high).toEqual([5])
    expect(found.low).toEqual([6])
  })

  it('flags nothing in a constant series', () => {
    expect(hampelOutliers([2, 2, 2], 3, 0.01)).toEqual({ median: 2, sigma: 0.01, high: [], low: [] })
  })

  it('never flags half of the values or more on either side', () => {
    fc.assert(
      fc.property(sample, values => {
        const { high, low } = hampelOutliers(values, 3, 0.5)
        expect(high.length).toBeLessThanOrEqual(values.length / 2)
        expect(low.length).toBeLessThanOrEqual(values.length / 2)
      }),
      runs,
    )
  })

  it('refuses a floor that would allow a spread of zero', () => {
    expect(() => hampelOutliers([1, 2], 3, 0)).toThrow(/floorSigma must be a finite number above 0, got 0/)
    expect(() => hampelOutliers([1, 2], -3, 1)).toThrow(/threshold/)
    expect(() => hampelOutliers([], 3, 1)).toThrow(/empty/)
  })
})
