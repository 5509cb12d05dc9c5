import { describe, expect, it } from 'vitest'
import {
  effectiveSampleSize,
  exactEffectiveSampleSize,
  lagOneAutocorrelation,
} from '../../src/statistics/autocorrelation.js'
import { expectWithin, readReference } from './reference.js'

// Standards item D2: NIST Statistical Reference Datasets, univariate; a one-pass sum of squares fails on the last ones.
describe('NIST numerical accuracy sets', () => {
  const alternating = (center: number) => [
    center,
    ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? center - 0.1 : center + 0.1)),
  ]
  it.each([
    ['NumAcc1', [10_000_001, 10_000_003, 10_000_002], -0.5],
    ['NumAcc2', alternating(1.2), -0.999],
    ['NumAcc3', alternating(1_000_000.2), -0.999],
    ['NumAcc4', alternating(10_000_000.2), -0.999],
  ])('%s', (name, values, certified) => {
    expectWithin(lagOneAutocorrelation(values), certified, { absolute: 1e-8 }, name)
  })
})

// Standards item C11.4, own arithmetic.
describe('effective sample size', () => {
  it.each([
    [96, 0.5, 32],
    [96, 0.8, 10.667],
    [96, 0, 96],
  ])('n %i, phi %d', (n, phi, expected) => {
    expectWithin(effectiveSampleSize(n, phi), expected, { absolute: 5e-4 }, 'n_eff')
  })
})

// R arima and ar, statsmodels, own closed forms: reference/ar1.json.
interface Input {
  readonly x?: readonly number[]
  readonly n?: number
  readonly phi?: number
}
interface Expected {
  readonly lag1Autocorrelation?: number
  readonly yuleWalkerPhi?: number
  readonly essFromR1Simple?: number
  readonly essFromR1Exact?: number
  readonly essSimple?: number
  readonly essExact?: number
}

describe('first-order autoregression against R and closed forms', () => {
  const entries = readReference<Input, Expected>('ar1')
  const series = entries.filter(e => e.expected.lag1Autocorrelation !== undefined)
  it.each(series.map(e => [e.id, e] as const))('%s', (_id, { input, expected }) => {
    const x = input.x ?? []
    const r = lagOneAutocorrelation(x)
    expectWithin(r, expected.lag1Autocorrelation ?? NaN, { relative: 1e-9 }, 'lag-one autocorrelation')
    expectWithin(r, expected.yuleWalkerPhi ?? NaN, { relative: 1e-9 }, 'phi by Yule and Walker')
    expectWithin(effectiveSampleSize(x.length, r), expected.essFromR1Simple ?? NaN, { relative: 1e-8 }, 'n_eff')
    expectWithin(exactEffectiveSampleSize(x.length, r), expected.essFromR1Exact ?? NaN, { relative: 1e-8 }, 'exact')
  })

  const sizes = entries.filter(e => e.expected.essSimple !== undefined)
  it.each(sizes.map(e => [e.id, e] as const))('%s', (_id, { input, expected, tolerance }) => {
    const { n = NaN, phi = NaN } = input
    expectWithin(effectiveSampleSize(n, phi), expected.essSimple ?? NaN, tolerance, 'n_eff')
    expectWithin(exactEffectiveSampleSize(n, phi), expected.essExact ?? NaN, tolerance, 'exact')
  })

  it('has all fits and sizes of the reference', () => {
    expect(series).toHaveLength(7)
    expect(sizes).toHaveLength(6)
  })
})
