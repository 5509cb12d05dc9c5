import { describe, expect, it } from 'vitest'
import { chiSquareCdf } from '../../src/statistics/distributions.js'
import { estimateInterval, type FittedLine, predictedValue } from '../../src/statistics/fittedLine.js'
import {
  IDENTITY,
  isInJointRegion,
  jointLimit,
  jointRegionOutline,
  jointStatistic,
} from '../../src/statistics/jointRegion.js'
import { ordinaryLeastSquares } from '../../src/statistics/ordinaryLeastSquares.js'
import { theilSen, theilSenSlope } from '../../src/statistics/theilSen.js'
import { scaledByScatter, yorkRegression } from '../../src/statistics/yorkRegression.js'
import { expectWithin, readReference } from './reference.js'

// Standards item D1: NIST Statistical Reference Datasets, linear regression, Norris (y, x); calibration of ozone monitors.
const NORRIS =
  `0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6 778.9
777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1 998.0
995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6
118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5`
    .split(/\s+/)
    .map(Number)

describe('NIST Norris', () => {
  const y = NORRIS.filter((_, i) => i % 2 === 0)
  const x = NORRIS.filter((_, i) => i % 2 === 1)
  const fit = ordinaryLeastSquares(x, y)

  it.each([
    ['intercept', fit.intercept, -0.262323073774029],
    ['its sd', fit.interceptSd, 0.232818234301152],
    ['slope', fit.slope, 1.00211681802045],
    ['its sd', fit.slopeSd, 0.429796848199937e-3],
    ['residual sd', fit.residualSd, 0.884796396144373],
    ['covariance (not certified)', fit.covariance, -7.7432753633957e-5],
  ])('%s', (name, got, certified) => {
    expectWithin(got, certified, { relative: 1e-10 }, name)
  })

  it('has 36 pairs', () => {
    expect(fit.n).toBe(36)
  })
})

// Standards item D3: Pearson's data with York's weights; errors after York et al. 2004, Am. J. Phys. 72:367.
describe("Pearson's data with York's weights", () => {
  const x = [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
  const y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
  const ux = [1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1].map(weight => 1 / Math.sqrt(weight))
  const uy = [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500].map(weight => 1 / Math.sqrt(weight))
  const fit = yorkRegression({ x, y, ux, uy })

  it('gives the published line and errors', () => {
    expect(fit.converged).toBe(true)
    expectWithin(fit.slope, -0.480533407446, { relative: 1e-8 }, 'slope')
    expectWithin(fit.intercept, 5.479910224033, { relative: 1e-8 }, 'intercept')
    expectWithin(fit.slopeSd, 0.057985, { relative: 1e-5 }, 'slope error')
    expectWithin(fit.interceptSd, 0.2949707, { relative: 1e-6 }, 'intercept error')
    expectWithin(fit.covariance, -0.0164725, { relative: 1e-5 }, 'covariance')
    expectWithin(fit.chiSquare, 11.8663532, { relative: 1e-8 }, 'chi-square')
    expectWithin(1 - chiSquareCdf(fit.chiSquare, 8), 0.157267, { absolute: 5e-7 }, 'p of chi-square')
  })

  it('gives the errors widened to the scatter, times the root of 1.4832941', () => {
    const scaled = scaledByScatter(fit)
    expectWithin(scaled.slopeSd, 0.0706203, { absolute: 5e-8 }, 'slope error')
    expectWithin(scaled.interceptSd, 0.3592465, { absolute: 5e-8 }, 'intercept error')
    expectWithin(scaled.covariance, -0.0164725 * 1.4832941, { relative: 1e-5 }, 'covariance')
    expect([scaled.df, scaled.slope, scaled.intercept]).toEqual([8, fit.slope, fit.intercept])
  })

  it('differs from ordinary least squares and Theil–Sen as it should', () => {
    const ols = ordinaryLeastSquares(x, y)
    expectWithin(ols.slope, -0.5395773, { absolute: 5e-8 }, 'OLS slope')
    expectWithin(ols.intercept, 5.7611852, { absolute: 5e-8 }, 'OLS intercept')
    expectWithin(theilSen(x, y).slope, -0.5357143, { absolute: 5e-8 }, 'Theil–Sen slope')
    expectWithin(theilSen(x, y).intercept, 5.8821429, { absolute: 5e-8 }, 'Theil–Sen intercept')
  })
})

// Standards item D4: arsenate by two methods, Ripley and Thompson 1987; data set of the R package deming (x, s_x, y, s_y).
const ARSENATE =
  `8.71 1.92 7.35 2.07 7.01 1.56 7.92 2.23 3.28 .76 3.40 .96 5.60 1.26 5.44 1.53 1.55 .39 2.07 .59 1.75 .43
2.29 .65 .73 .22 .66 .19 3.66 .84 3.43 .97 .90 .25 1.25 .36 9.39 2.07 6.58 1.85 4.39 1.00 3.31 .93 3.69 .84 2.72 .77 .34
.13 2.32 .66 1.94 .47 1.50 .43 2.07 .50 3.50 .99 1.38 .36 1.17 .33 1.81 .45 2.31 .66 1.27 .33 1.88 .54 .82 .23 .44 .13
1.88 .46 1.37 .40 5.66 1.27 7.04 1.98 0 .06 0 .01 0 .06 .49 .15 .40 .15 1.29 .37 0 .06 .37 .12 1.98 .48 2.16 .62 10.21
2.24 12.53 3.51 4.64 1.05 3.90 1.10 5.66 1.27 4.66 1.31 19.25 4.18 15.86 4.45`
    .split(/\s+/)
    .map(Number)

describe('arsenate in river water', () => {
  const column = (offset: number) => ARSENATE.filter((_, i) => i % 4 === offset)
  const fit = yorkRegression({ x: column(0), ux: column(1), y: column(2), uy: column(3) })

  it('gives the printed line, and least squares flattens it', () => {
    expect(fit.n).toBe(30)
    expectWithin(fit.slope, 0.97298781, { relative: 1e-7 }, 'slope')
    expectWithin(fit.intercept, 0.10644827, { relative: 1e-6 }, 'intercept')
    expectWithin(fit.chiSquare, 38.034603, { relative: 1e-7 }, 'chi-square')
    expectWithin(fit.slopeSd, 0.0766161, { relative: 1e-5 }, 'slope error')
    expectWithin(fit.interceptSd, 0.0481937, { relative: 1e-5 }, 'intercept error')
    const scale = (scaledByScatter(fit).slopeSd / fit.slopeSd) ** 2
    expectWithin(scale, 1.35838, { absolute: 5e-6 }, 'chi-square over 28')
    expectWithin(ordinaryLeastSquares(column(0), column(2)).slope, 0.8446433, { absolute: 5e-8 }, 'OLS slope')
  })
})

// Standards item D5: Sen 1968, J. Am. Stat. Assoc. 63:1379.
describe("Sen's example", () => {
  it('has slope 4 and intercept 6', () => {
    expect(theilSen([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78])).toEqual({ slope: 4, intercept: 6 })
  })
})

// Standards item D12: GUM (JCGM 100:2008) H.3, calibration of a thermometer, data from memory; correction b against t − 20.
describe('GUM H.3', () => {
  const t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511]
  const b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16]
  const fit = ordinaryLeastSquares(
    t.map(value => value - 20),
    b,
  )

  it('gives the line, its correlation and the correction at 30 degrees', () => {
    expectWithin(fit.intercept, -0.1712, { absolute: 5e-5 }, 'y1')
    expectWithin(fit.interceptSd, 0.0029, { absolute: 5e-5 }, 's(y1)')
    expectWithin(fit.slope, 0.00218, { absolute: 5e-6 }, 'y2')
    expectWithin(fit.slopeSd, 0.00067, { absolute: 5e-6 }, 's(y2)')
    expectWithin(fit.covariance / (fit.interceptSd * fit.slopeSd), -0.93, { absolute: 5e-4 }, 'r(y1, y2)')
    const at30 = predictedValue(fit, 10)
    expectWithin(at30.value, -0.1494, { absolute: 5e-5 }, 'b(30)')
    expectWithin(at30.sd, 0.0041, { absolute: 5e-5 }, 'u(b(30))')
  })

  // More digits than are printed: the same data in 40-digit arithmetic.
  it('agrees in more digits, and not with the uncertainty that leaves the correlation out', () => {
    const at30 = predictedValue(fit, 10)
    expectWithin(at30.value, -0.149376813, { absolute: 5e-10 }, 'b(30)')
    expectWithin(at30.sd, 0.004138596, { absolute: 5e-10 }, 'u(b(30))')
    expectWithin(Math.hypot(fit.interceptSd, 10 * fit.slopeSd), 0.00727, { absolute: 5e-6 }, 'without the correlation')
  })
})

// statsmodels, exact arithmetic and scipy: reference/regression.json.
interface Input {
  readonly method: string
  readonly x: readonly number[]
  readonly y: readonly number[]
  readonly sx?: readonly number[]
  readonly sy?: readonly number[]
  readonly errorCorrelation?: unknown
}
interface Line {
  readonly slope: number
  readonly intercept: number
}
type Interval = readonly [number, number]
interface JointRegion {
  readonly quadraticLimit: number
  readonly boundary: readonly Interval[]
  readonly extremesIntercept: Interval
  readonly extremesSlope: Interval
  readonly statisticAtIdentity: number
  readonly identityInside: boolean
}
interface Expected extends Line {
  readonly joint?: Line & { readonly ciSlope95: Interval }
  readonly seIntercept: number
  readonly seSlope: number
  readonly residualSd: number
  readonly df: number
  readonly covInterceptSlope: number
  readonly S: number
  readonly reducedChi2: number
  readonly ciIntercept95: Interval
  readonly ciSlope95: Interval
  readonly ciIntercept95Normal: Interval
  readonly ciSlope95Normal: Interval
  readonly jointRegion95?: JointRegion
  readonly meanAt?: { readonly x: number; readonly y: number; readonly se: number; readonly ci95: Interval }
  readonly predictionInterval95: Interval
}
type Tolerance = Parameters<typeof expectWithin>[2]

function expectInterval(got: readonly number[], expected: readonly number[], tolerance: Tolerance, label: string) {
  expect(got).toHaveLength(expected.length)
  got.forEach((end, i) => {
    expectWithin(end, expected[i]!, tolerance, `${label}, ${String(i)}`)
  })
}

/** Intercept and slope with their intervals. */
function expectIntervals(fit: FittedLine, intercept: Interval, slope: Interval, tolerance: Tolerance) {
  const { df } = fit
  expectInterval(estimateInterval({ value: fit.intercept, sd: fit.interceptSd }, df), intercept, tolerance, 'intercept')
  expectInterval(estimateInterval({ value: fit.slope, sd: fit.slopeSd }, df), slope, tolerance, 'slope')
}

function expectJointRegion(fit: FittedLine, expected: JointRegion, tolerance: Tolerance) {
  expectWithin(jointLimit(fit.df), expected.quadraticLimit, tolerance, 'limit')
  expectWithin(jointStatistic(fit, IDENTITY), expected.statisticAtIdentity, tolerance, 'statistic at (0, 1)')
  expect(isInJointRegion(fit, IDENTITY)).toBe(expected.identityInside)
  // The reference goes round in steps of 45 degrees.
  const outline = jointRegionOutline(fit, 1)
  const along = (of: (line: Line) => number) => outline.map(of)
  expectInterval(
    along(one => one.intercept),
    expected.boundary.map(([intercept]) => intercept),
    tolerance,
    'edge, intercept',
  )
  expectInterval(
    along(one => one.slope),
    expected.boundary.map(([, slope]) => slope),
    tolerance,
    'edge, slope',
  )
  expectWithin(Math.max(...along(one => one.intercept)), expected.extremesIntercept[1], tolerance, 'greatest intercept')
  expectWithin(Math.min(...along(one => one.intercept)), expected.extremesIntercept[0], tolerance, 'least intercept')
  // The extremes of the slope lie between those steps; among 4096 points they are met to 3e-7 of the width.
  const slopes = jointRegionOutline(fit, 10).map(({ slope }) => slope)
  const near = { absolute: 4e-7 * (expected.extremesSlope[1] - expected.extremesSlope[0]) }
  expectWithin(Math.max(...slopes), expected.extremesSlope[1], near, 'greatest slope')
  expectWithin(Math.min(...slopes), expected.extremesSlope[0], near, 'least slope')
}

describe('lines against other software', () => {
  const entries = readReference<Input, Expected>('regression')

  it.each(entries.filter(e => e.input.method === 'ols').map(e => [e.id, e] as const))('%s', (_id, entry) => {
    const { expected, tolerance } = entry
    const fit = ordinaryLeastSquares(entry.input.x, entry.input.y)
    expectWithin(fit.slope, expected.slope, tolerance, 'slope')
    expectWithin(fit.intercept, expected.intercept, tolerance, 'intercept')
    expectWithin(fit.slopeSd, expected.seSlope, tolerance, 'slope error')
    expectWithin(fit.interceptSd, expected.seIntercept, tolerance, 'intercept error')
    expectWithin(fit.residualSd, expected.residualSd, tolerance, 'residual sd')
    expectWithin(fit.covariance, expected.covInterceptSlope, tolerance, 'covariance')
    expect(fit.df).toBe(expected.df)
    expectIntervals(fit, expected.ciIntercept95, expected.ciSlope95, tolerance)
    if (expected.jointRegion95 !== undefined) expectJointRegion(fit, expected.jointRegion95, tolerance)
    if (expected.meanAt === undefined) return
    const mean = predictedValue(fit, expected.meanAt.x)
    expectWithin(mean.value, expected.meanAt.y, tolerance, 'predicted value')
    expectWithin(mean.sd, expected.meanAt.se, tolerance, 'its error')
    expectInterval(estimateInterval(mean, fit.df), expected.meanAt.ci95, tolerance, 'its interval')
    const one = { value: mean.value, sd: Math.hypot(mean.sd, fit.residualSd) }
    expectInterval(estimateInterval(one, fit.df), expected.predictionInterval95, tolerance, 'a new value')
  })

  const york = entries.filter(e => e.input.method === 'york' && e.input.errorCorrelation === undefined)
  it.each(york.map(e => [e.id, e] as const))('%s', (_id, { input, expected, tolerance }) => {
    const fit = yorkRegression({ x: input.x, y: input.y, ux: input.sx ?? [], uy: input.sy ?? [] })
    expect(fit.converged).toBe(true)
    expectWithin(fit.slope, expected.slope, tolerance, 'slope')
    expectWithin(fit.intercept, expected.intercept, tolerance, 'intercept')
    expectWithin(fit.slopeSd, expected.seSlope, tolerance, 'slope error')
    expectWithin(fit.interceptSd, expected.seIntercept, tolerance, 'intercept error')
    expectWithin(fit.covariance, expected.covInterceptSlope, tolerance, 'covariance')
    expectWithin(fit.chiSquare, expected.S, tolerance, 'chi-square')
    expectIntervals(fit, expected.ciIntercept95Normal, expected.ciSlope95Normal, tolerance)
    expectJointRegion(fit, expected.jointRegion95!, tolerance)
    const widened = Math.sqrt(Math.max(1, expected.reducedChi2))
    expectWithin(scaledByScatter(fit).slopeSd, widened * expected.seSlope, tolerance, 'slope error by the scatter')
  })

  const robust = entries.filter(e => e.expected.joint !== undefined)
  it.each(robust.map(e => [e.id, e] as const))('%s', (_id, { input, expected, tolerance }) => {
    const fit = theilSen(input.x, input.y)
    expectWithin(fit.slope, expected.joint?.slope ?? NaN, tolerance, 'slope')
    expectWithin(fit.intercept, expected.joint?.intercept ?? NaN, tolerance, 'intercept')
    const { interval } = theilSenSlope(input.x, input.y)
    expectWithin(interval?.lower ?? NaN, expected.joint?.ciSlope95[0] ?? NaN, tolerance, 'lower end of the slope')
    expectWithin(interval?.upper ?? NaN, expected.joint?.ciSlope95[1] ?? NaN, tolerance, 'upper end of the slope')
  })

  it('covers every entry of the three kinds', () => {
    expect([entries.filter(e => e.input.method === 'ols').length, york.length, robust.length]).toEqual([8, 6, 9])
    expect(entries.filter(e => e.input.method === 'ols' && e.expected.jointRegion95 === undefined)).toHaveLength(1)
  })
})
