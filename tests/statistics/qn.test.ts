import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalQuantile } from '../../src/statistics/distributions.js'
import { qn, QN_TO_SIGMA, qnOrderStatistic } from '../../src/statistics/qn.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_312, numRuns: 100 } // the seed only pins the generated cases

const sample = fc.array(fc.integer({ min: -5000, max: 5000 }), { minLength: 2, maxLength: 30 })

describe('Qn', () => {
  it('stays under a shift and stretches with the values, whatever their order', () => {
    fc.assert(
      fc.property(sample, fc.integer({ min: -100, max: 100 }), fc.integer({ min: -64, max: 64 }), (values, a, b) => {
        expect(qnOrderStatistic(values.map(x => a + b * x).reverse())).toBe(Math.abs(b) * qnOrderStatistic(values))
        expect(qn([...values].reverse())).toBe(qn(values))
      }),
      runs,
    )
  })

  it('is a distance between two of the values', () => {
    fc.assert(
      fc.property(sample, values => {
        const distances = values.flatMap((x, i) => values.slice(0, i).map(y => Math.abs(x - y)))
        expect(distances).toContain(qnOrderStatistic(values))
        expect(qn(values)).toBeGreaterThanOrEqual(0)
      }),
      runs,
    )
  })

  it('is 0 where over half are equal and bears nearly half of wild values', () => {
    expect(qn([3, 3, 3, 3, 9, 17])).toBe(0)
    expect(qn([5, 5])).toBe(0)
    expect(qnOrderStatistic([1, 2, 3, 4, 5, 1e9, -1e9, 1e8, -1e8])).toBeLessThanOrEqual(4)
  })

  it('estimates the standard deviation of normal samples of any size', () => {
    const normal = normalSource(11)
    for (const n of [2, 3, 4, 5, 7, 8, 12, 13, 14, 40]) {
      const rounds = 1500
      let sum = 0
      for (let i = 0; i < rounds; i++) sum += qn(Array.from({ length: n }, normal))
      // Spread of one estimate is below 0.85 even at n 2; four standard errors.
      expect(Math.abs(sum / rounds - 1), `n ${n}`).toBeLessThan((4 * 0.85) / Math.sqrt(rounds))
    }
    expect(1 / (Math.SQRT2 * normalQuantile(5 / 8))).toBeCloseTo(QN_TO_SIGMA, 13)
  })

  it('refuses fewer than two values and what is not finite, naming it', () => {
    expect(() => qn([])).toThrow(/values must not be empty/)
    expect(() => qn([4])).toThrow(/values must have at least two entries, got 1/)
    expect(() => qnOrderStatistic([1, Infinity])).toThrow(/values\[1\] must be a finite number, got Infinity/)
  })
})
