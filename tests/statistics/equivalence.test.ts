import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { equivalenceOfMean, equivalenceOfMeans, equivalenceOfPairs } from '../../src/statistics/equivalence.js'

const runs = { seed: 20_260_322, numRuns: 200 } // the seed only pins the generated cases

const whole = fc.integer({ min: -200, max: 200 })
const sample = fc.array(whole, { minLength: 2, maxLength: 20 })
const margin = { low: -50, high: 50 }

describe('two one-sided tests', () => {
  it('call equivalent exactly where the interval lies within the margin', () => {
    fc.assert(
      fc.property(sample, fc.integer({ min: 1, max: 60 }), (values, reach) => {
        const limits = { low: -reach - 0.5, high: reach + 0.25, alpha: 0.1 }
        const zeros = values.map(() => 0)
        for (const found of [equivalenceOfPairs(values, zeros, limits), equivalenceOfMeans(values, zeros, limits)])
          expect(found.equivalent).toBe(found.interval.lower > limits.low && found.interval.upper < limits.high)
      }),
      runs,
    )
  })

  it('go with the unit and the sign', () => {
    fc.assert(
      fc.property(sample, sample, (x, y) => {
        const plain = equivalenceOfMeans(x, y, { low: -30, high: 50 })
        const doubled = equivalenceOfMeans(
          x.map(value => 2 * value),
          y.map(value => 2 * value),
          { low: -60, high: 100 },
        )
        expect(doubled.p).toBeCloseTo(plain.p, 12)
        expect(doubled.interval.upper).toBeCloseTo(2 * plain.interval.upper, 8)
        const turned = equivalenceOfMeans(y, x, { low: -50, high: 30 })
        expect(turned.pLow).toBeCloseTo(plain.pHigh, 12)
        expect(turned.equivalent).toBe(plain.equivalent)
      }),
      runs,
    )
  })

  it('take values in any order, pairs together', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(whole, whole), { minLength: 2, maxLength: 20 }), pairs => {
        const x = pairs.map(([one]) => one)
        const y = pairs.map(([, other]) => other)
        const plain = equivalenceOfPairs(x, y, margin)
        expect(equivalenceOfPairs([...x].reverse(), [...y].reverse(), margin).p).toBeCloseTo(plain.p, 12)
      }),
      runs,
    )
  })

  it('give numbers for any finite values', () => {
    fc.assert(
      fc.property(sample, sample, (x, y) => {
        const { tLow, tHigh, interval, ...rest } = equivalenceOfMeans(x, y, margin)
        expect([tLow, tHigh].some(Number.isNaN)).toBe(false) // infinite where nothing scatters
        expect([rest.pLow, rest.pHigh, rest.df, interval.lower, interval.upper].every(Number.isFinite)).toBe(true)
      }),
      runs,
    )
  })

  it('are sure of the side where nothing scatters, and of none on the limit itself', () => {
    const still = (mean: number) => equivalenceOfMean({ mean, sd: 0, n: 3 }, margin)
    expect(still(49)).toMatchObject({ p: 0, equivalent: true, interval: { lower: 49, upper: 49 } })
    expect(still(51)).toMatchObject({ p: 1, equivalent: false })
    expect(still(50)).toMatchObject({ p: 0.5, equivalent: false })
    expect(equivalenceOfMeans([1, 1], [2, 2, 2], margin)).toMatchObject({ df: 3, p: 0, equivalent: true })
  })

  it('do not take few values that scatter for proof', () => {
    expect(equivalenceOfPairs([10, -10], [0, 0], margin).equivalent).toBe(false)
  })

  it('refuse what they cannot take, naming it', () => {
    expect(() => equivalenceOfMean({ mean: 0, sd: 1, n: 1 }, margin)).toThrow(/n must be a whole number of at least 2/)
    expect(() => equivalenceOfMean({ mean: 0, sd: -1, n: 5 }, margin)).toThrow(/sd must be .* 0 or more, got -1/)
    expect(() => equivalenceOfMean({ mean: NaN, sd: 1, n: 5 }, margin)).toThrow(/mean must be a finite number, got NaN/)
    expect(() => equivalenceOfPairs([1], [1], margin)).toThrow(/x must have at least two values, got 1/)
    expect(() => equivalenceOfPairs([1, 2], [1], margin)).toThrow(/y must have as many values as x \(2\), got 1/)
    expect(() => equivalenceOfMeans([1, 2], [], margin)).toThrow(/y must not be empty/)
    expect(() => equivalenceOfMeans([1, 2], [1, 2], { low: 1, high: 1 })).toThrow(/high must be .* above low 1, got 1/)
    expect(() => equivalenceOfMeans([1, 2], [1, 2], { low: NaN, high: 1 })).toThrow(/low must be a finite number/)
    expect(() => equivalenceOfMeans([1, 2], [1, 2], { ...margin, alpha: 0.5 })).toThrow(/alpha must be .*, got 0.5/)
  })
})
