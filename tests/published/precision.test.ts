import { describe, expect, it } from 'vitest'
import {
  equivalenceOfMean,
  equivalenceOfMeans,
  equivalenceOfPairs,
  type EquivalenceTest,
} from '../../src/statistics/equivalence.js'
import { precisionOfThree, precisionOfTwo } from '../../src/statistics/grubbsPrecision.js'
import { expectWithin, readReference } from './reference.js'

// Standards item D10: twelve muzzle velocities by three chronographs, Grubbs 1948; data from memory, own arithmetic.
describe("Grubbs' chronographs", () => {
  const a = [793.8, 793.1, 792.4, 794.0, 791.4, 792.4, 791.7, 792.3, 789.6, 794.4, 790.9, 793.5]
  const b = [794.6, 793.9, 793.2, 794.0, 792.2, 793.1, 792.4, 792.8, 790.2, 795.0, 791.6, 793.8]
  const c = [793.2, 793.3, 792.6, 793.8, 791.6, 791.6, 791.6, 792.4, 788.5, 794.7, 791.3, 793.5]
  const digits = { absolute: 5e-8 }

  it('gives three instruments their variances', () => {
    const { instruments } = precisionOfThree(a, b, c)
    expectWithin(instruments[0]?.errorVariance ?? NaN, 0.0065152, digits, 'A')
    expectWithin(instruments[1]?.errorVariance ?? NaN, 0.0525, digits, 'B')
    expectWithin(instruments[2]?.errorVariance ?? NaN, 0.2186364, digits, 'C')
    expect(instruments.map(one => one.negative)).toEqual([false, false, false])
  })

  it('gives two instruments a negative one, as it is and marked', () => {
    const { instruments, productVariance } = precisionOfTwo(a, b)
    expectWithin(instruments[0]?.errorVariance ?? NaN, 0.1168939, digits, 'A')
    expectWithin(instruments[1]?.errorVariance ?? NaN, -0.0578788, digits, 'B')
    expectWithin(productVariance, 1.8621212, digits, 'product')
    expect(instruments.map(one => one.negative)).toEqual([false, true])
  })
})

// Exact arithmetic: reference/precision.json.
interface GrubbsExpected {
  readonly errorVariances: readonly number[]
  readonly productVariance: number
}

describe('precision of instruments against exact arithmetic', () => {
  const entries = readReference<{ readonly readings: readonly number[][] }, GrubbsExpected>('precision').filter(entry =>
    entry.id.startsWith('grubbs-'),
  )

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, tolerance }) => {
    const [first = [], second = [], third] = input.readings
    const found = third === undefined ? precisionOfTwo(first, second) : precisionOfThree(first, second, third)
    found.instruments.forEach((one, i) => {
      expectWithin(one.errorVariance, expected.errorVariances[i] ?? NaN, tolerance, `instrument ${i}`)
      expect(one.negative).toBe((expected.errorVariances[i] ?? NaN) < 0)
    })
    expect(found.instruments).toHaveLength(expected.errorVariances.length)
    expectWithin(found.productVariance, expected.productVariance, tolerance, 'product')
  })

  it('covers two and three instruments, with negative variances', () => {
    expect(entries).toHaveLength(12)
    expect(entries.filter(entry => entry.expected.errorVariances.some(value => value < 0))).toHaveLength(3)
  })
})

// Standards item D13.4, own arithmetic.
describe('two one-sided tests on twelve differences', () => {
  it('call them equivalent', () => {
    const found = equivalenceOfMean({ mean: 0.02, sd: 0.03, n: 12 }, { low: -0.05, high: 0.05 })
    expectWithin(found.tLow, 8.082904, { absolute: 5e-7 }, 't low')
    expectWithin(found.tHigh, -3.464102, { absolute: 5e-7 }, 't high')
    expectWithin(found.pLow, 2.9607e-6, { absolute: 5e-11 }, 'p low')
    expectWithin(found.pHigh, 0.00264737, { absolute: 5e-9 }, 'p high')
    expectWithin(found.interval.lower, 0.0044472, { absolute: 5e-8 }, 'lower end')
    expectWithin(found.interval.upper, 0.0355528, { absolute: 5e-8 }, 'upper end')
    expect(found.equivalent).toBe(true)
  })
})

// statsmodels 0.15.0 ttost_paired and ttost_ind: reference/precision.json.
interface TostInput {
  readonly a: readonly number[]
  readonly b: readonly number[]
  readonly low: number
  readonly high: number
  readonly variance?: string
}
type TostExpected = Pick<EquivalenceTest, 'p' | 'tLow' | 'pLow' | 'tHigh' | 'pHigh' | 'df'> & {
  readonly ci90?: readonly [number, number]
}

describe('two one-sided tests against statsmodels', () => {
  const entries = readReference<TostInput, TostExpected>('precision').filter(
    entry => entry.id.startsWith('tost-') && entry.input.variance !== 'pooled',
  )

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, tolerance }) => {
    const test = input.variance === undefined ? equivalenceOfPairs : equivalenceOfMeans
    const found = test(input.a, input.b, { low: input.low, high: input.high })
    for (const name of ['tLow', 'pLow', 'tHigh', 'pHigh', 'p', 'df'] as const)
      expectWithin(found[name], expected[name], tolerance, name)
    expect(found.equivalent).toBe(expected.p < 0.05)
    if (expected.ci90 === undefined) return
    expectWithin(found.interval.lower, expected.ci90[0], tolerance, 'lower end')
    expectWithin(found.interval.upper, expected.ci90[1], tolerance, 'upper end')
    expect(found.equivalent).toBe(expected.ci90[0] > input.low && expected.ci90[1] < input.high)
  })

  it('covers pairs and samples of unequal variance', () => {
    expect(entries).toHaveLength(12)
  })
})
