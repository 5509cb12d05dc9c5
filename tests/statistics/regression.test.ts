import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { ordinaryLeastSquares } from '../../src/statistics/ordinaryLeastSquares.js'
import { theilSen } from '../../src/statistics/theilSen.js'
import { yorkRegression } from '../../src/statistics/yorkRegression.js'

const runs = { seed: 20_260_305, numRuns: 100 } // the seed only pins the generated cases

// Whole numbers so that slopes are exact; x strictly rising.
const pairs = fc
  .array(fc.tuple(fc.integer({ min: 1, max: 9 }), fc.integer({ min: -500, max: 500 })), { minLength: 3, maxLength: 20 })
  .map(steps => {
    let at = 0
    return { x: steps.map(([step]) => (at += step)), y: steps.map(([, value]) => value) }
  })

describe('lines', () => {
  it('move with y and stretch with it', () => {
    fc.assert(
      fc.property(pairs, fc.integer({ min: -50, max: 50 }), fc.integer({ min: 1, max: 8 }), ({ x, y }, a, b) => {
        const moved = y.map(value => a + b * value)
        for (const fit of [ordinaryLeastSquares, theilSen]) {
          expect(fit(x, moved).slope).toBeCloseTo(b * fit(x, y).slope, 7)
          expect(fit(x, moved).intercept).toBeCloseTo(a + b * fit(x, y).intercept, 6)
        }
      }),
      runs,
    )
  })

  it('go through points that lie on one', () => {
    fc.assert(
      fc.property(pairs, fc.integer({ min: -9, max: 9 }), fc.integer({ min: -9, max: 9 }), ({ x }, a, b) => {
        const y = x.map(value => a + b * value)
        const even = x.map(() => 0.1)
        for (const fit of [ordinaryLeastSquares(x, y), theilSen(x, y), yorkRegression({ x, y, ux: even, uy: even })]) {
          expect(fit.slope).toBeCloseTo(b, 9)
          expect(fit.intercept).toBeCloseTo(a, 7)
        }
      }),
      runs,
    )
  })

  it('are finite for any finite values', () => {
    fc.assert(
      fc.property(pairs, ({ x, y }) => {
        const uncertain = x.map(() => 0.5)
        const york = yorkRegression({ x, y, ux: uncertain, uy: uncertain })
        expect(
          Object.values({ ...ordinaryLeastSquares(x, y), ...theilSen(x, y), s: york.slope }).every(Number.isFinite),
        ).toBe(true)
      }),
      runs,
    )
  })

  it('become ordinary least squares where only y is uncertain', () => {
    const x = [0, 1, 2, 3, 5]
    const y = [0.1, 0.9, 2.2, 2.8, 5.1]
    const york = yorkRegression({ x, y, ux: [0, 0, 0, 0, 0], uy: [1, 1, 1, 1, 1] })
    const ols = ordinaryLeastSquares(x, y)
    expect(york.slope).toBeCloseTo(ols.slope, 12)
    expect(york.intercept).toBeCloseTo(ols.intercept, 12)
    expect(york.slopeSd * ols.residualSd).toBeCloseTo(ols.slopeSd, 12)
    expect(york.covariance * ols.residualSd ** 2).toBeCloseTo(ols.covariance, 12)
  })

  it('bear a wild value and equal x in Theil–Sen', () => {
    expect(theilSen([0, 0, 1, 1, 2, 3, 4, 5], [1, 1, 3, 3, 5, 900, 9, 11])).toEqual({ slope: 2, intercept: 1 })
    expect(theilSen([1, 2], [5, 7])).toEqual({ slope: 2, intercept: 3 })
  })

  it('refuse what bears no line, naming it', () => {
    expect(() => theilSen([], [])).toThrow(/x must not be empty/)
    expect(() => theilSen([1], [2])).toThrow(/x must hold at least two different values/)
    expect(() => theilSen([1, 2], [1])).toThrow(/y must have as many values as x \(2\), got 1/)
    expect(() => ordinaryLeastSquares([1, 2], [1, 2])).toThrow(/at least three values, got 2/)
    expect(() => ordinaryLeastSquares([3, 3, 3], [1, 2, 3])).toThrow(/two different values/)
    expect(() => ordinaryLeastSquares([1, 2, NaN], [1, 2, 3])).toThrow(/x\[2\] must be a finite number, got NaN/)
    const line = { x: [1, 2, 3], y: [1, 2, 3] }
    expect(() => yorkRegression({ ...line, ux: [0, 0, 0], uy: [1, 0, 1] })).toThrow(/uy\[1\] must be above 0, got 0/)
    expect(() => yorkRegression({ ...line, ux: [0, -1, 0], uy: [1, 1, 1] })).toThrow(
      /ux\[1\] must be 0 or more, got -1/,
    )
    expect(() => yorkRegression({ ...line, ux: [0], uy: [1, 1, 1] })).toThrow(/ux must have as many values as x/)
  })
})
