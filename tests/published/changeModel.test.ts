import { describe, expect, it } from 'vitest'
import { newChangeSums, offsetCoupling, scoreChange, solveOffsets } from '../../src/statistics/changePosterior.js'
import { addDirectly } from '../statistics/directChange.js'
import { expectWithin, readReference } from './reference.js'

// With priors so wide that they say nothing, one offset is the intercept and the size the slope of least squares.

interface Input {
  readonly method: string
  readonly x: readonly number[]
  readonly y: readonly number[]
  readonly weights?: readonly number[]
}
interface Fit {
  readonly intercept: number
  readonly slope: number
  readonly seIntercept: number
  readonly seSlope: number
  readonly residualSd: number
}
interface Expected extends Fit {
  readonly covInterceptSlope?: number
  readonly scale: number
}

const OFFSET_VARIANCE = 1e12
const SIZE_SD = 1e6

/** Line with errors for noise of variance 1 over the weight. */
function lineOf({ x, y, weights }: Input) {
  const series = {
    y,
    variance: y.map((_, i) => 1 / (weights?.[i] ?? 1)),
    g: y.map(() => 1),
    loading: [1],
    times: y.map((_, i) => i),
    phi: y.map(() => 0),
    effect: x,
  }
  const offsets = solveOffsets([series], [OFFSET_VARIANCE])
  const sums = newChangeSums(1)
  addDirectly(sums, series, () => 1)
  const { mean, sd } = scoreChange(sums, offsets, SIZE_SD)
  const lower = offsetCoupling(sums, offsets)[0]!
  return {
    slope: mean,
    slopeSd: sd,
    intercept: offsets.means[0]! - lower * mean,
    interceptSd: Math.sqrt(offsets.covariance[0]![0]! + lower * lower * sd * sd),
    covariance: -lower * sd * sd,
  }
}

describe('a change with wide priors is a line of least squares', () => {
  // statsmodels OLS and WLS: reference/regression.json.
  const entries = readReference<Input, Expected>('regression').filter(({ input }) => /^(ols|wls)$/.test(input.method))

  it.each(entries.map(e => [e.id, e] as const))('%s', (_id, { input, expected, tolerance }) => {
    const line = lineOf(input)
    const residualSd = input.method === 'wls' ? Math.sqrt(expected.scale) : expected.residualSd
    expectWithin(line.slope, expected.slope, tolerance, 'slope')
    expectWithin(line.intercept, expected.intercept, tolerance, 'intercept')
    expectWithin(line.slopeSd * residualSd, expected.seSlope, tolerance, 'slope error')
    expectWithin(line.interceptSd * residualSd, expected.seIntercept, tolerance, 'intercept error')
    if (expected.covInterceptSlope !== undefined)
      expectWithin(line.covariance * residualSd ** 2, expected.covInterceptSlope, tolerance, 'covariance')
  })

  it('covers every entry of the two kinds', () => {
    expect(entries).toHaveLength(9)
  })

  // Standards item D1: NIST Statistical Reference Datasets, linear regression, Norris: certified values.
  it('gives the certified line of Norris', () => {
    const norris = entries.find(e => e.id === 'ols-norris')!
    const line = lineOf(norris.input)
    const residualSd = 0.884796396144373
    const close = { relative: 1e-10 }
    expectWithin(line.slope, 1.00211681802045, close, 'slope')
    expectWithin(line.intercept, -0.262323073774029, close, 'intercept')
    expectWithin(line.slopeSd * residualSd, 0.429796848199937e-3, close, 'slope error')
    expectWithin(line.interceptSd * residualSd, 0.232818234301152, close, 'intercept error')
  })
})
