import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { fallingFit } from '../../src/statistics/isotonic.js'

const runs = { seed: 20_260_341, numRuns: 200 } // the seed only pins the generated cases

const weighted = fc
  .array(fc.tuple(fc.integer({ min: -50, max: 50 }), fc.integer({ min: 1, max: 9 })), { minLength: 1, maxLength: 15 })
  .map(rows => ({ values: rows.map(([value]) => value), weights: rows.map(([, weight]) => weight) }))

/** Weighted mean of values a to b. */
function meanOf(values: readonly number[], weights: readonly number[], a: number, b: number): number {
  let sum = 0
  let total = 0
  for (let i = a; i <= b; i++) {
    sum += weights[i]! * values[i]!
    total += weights[i]!
  }
  return sum / total
}

describe('falling fit', () => {
  // Robertson, Wright and Dykstra 1988, Order Restricted Statistical Inference, section 1.4 (from memory), turned round.
  it('is at each place the least over beginnings of the greatest over ends of the mean between', () => {
    fc.assert(
      fc.property(weighted, ({ values, weights }) => {
        const fit = fallingFit(values, weights)
        const places = values.map((_, i) => i)
        places.forEach(i => {
          const overEnds = places
            .slice(0, i + 1)
            .map(a => Math.max(...places.slice(i).map(b => meanOf(values, weights, a, b))))
          expect(fit[i]).toBeCloseTo(Math.min(...overEnds), 9)
        })
      }),
      runs,
    )
  })

  it('never rises, keeps the weighted mean, and moves and stretches with the values', () => {
    fc.assert(
      fc.property(weighted, fc.integer({ min: -90, max: 90 }), ({ values, weights }, shift) => {
        const fit = fallingFit(values, weights)
        fit.forEach((value, i) => {
          expect(value).toBeLessThanOrEqual(fit[i - 1] ?? Infinity)
        })
        const last = values.length - 1
        expect(meanOf(fit, weights, 0, last)).toBeCloseTo(meanOf(values, weights, 0, last), 9)
        fallingFit(
          values.map(value => shift + 3 * value),
          weights,
        ).forEach((value, i) => {
          expect(value).toBeCloseTo(shift + 3 * fit[i]!, 9)
        })
      }),
      runs,
    )
  })

  // The example of scikit-learn's isotonic_regression, from memory, with signs turned.
  it('gives the printed example', () => {
    const fit = fallingFit([-5, -3, -1, -2, -8, -10, -7, -9, -6, -4], new Array<number>(10).fill(1))
    expect(fit.map(value => value.toFixed(2))).toEqual([
      ...Array<string>(4).fill('-2.75'),
      ...Array<string>(6).fill('-7.33'),
    ])
  })

  it('leaves a falling series as it is and levels a rising one', () => {
    expect(fallingFit([5, 5, 3, 1], [1, 2, 1, 1])).toEqual([5, 5, 3, 1])
    expect(fallingFit([1, 2, 6], [1, 1, 1])).toEqual([3, 3, 3])
    expect(fallingFit([1, 5], [3, 1])).toEqual([2, 2])
    expect(fallingFit([7], [2])).toEqual([7])
  })

  it('refuses what it cannot take, naming it', () => {
    expect(() => fallingFit([], [])).toThrow(/values must not be empty/)
    expect(() => fallingFit([1, 2], [1])).toThrow(/weights must be as many as values \(2\), got 1/)
    expect(() => fallingFit([1, 2], [1, 0])).toThrow(/weights\[1\] must be a finite number above 0, got 0/)
    expect(() => fallingFit([1, NaN], [1, 1])).toThrow(/values\[1\] must be a finite number, got NaN/)
  })
})
