import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { estimateInterval, type FittedLine, predictedValue } from '../../src/statistics/fittedLine.js'
import { ordinaryLeastSquares } from '../../src/statistics/ordinaryLeastSquares.js'
import {
  scaledByScatter,
  slopeSdOfIdentity,
  type YorkInput,
  type YorkLine,
  yorkRegression,
} from '../../src/statistics/yorkRegression.js'

const runs = { seed: 20_260_307, numRuns: 150 } // the seed only pins the generated cases

/** Values about a rising line, so that both coordinates bear one, each value with uncertainties of its own. */
const scattered: fc.Arbitrary<YorkInput> = fc
  .array(
    fc.record({
      step: fc.integer({ min: 1, max: 9 }),
      noise: fc.integer({ min: -20, max: 20 }),
      ux: fc.integer({ min: 1, max: 9 }),
      uy: fc.integer({ min: 1, max: 9 }),
    }),
    { minLength: 3, maxLength: 20 },
  )
  .chain(rows =>
    fc.integer({ min: 1, max: 4 }).map(rise => {
      let at = 0
      const x = rows.map(({ step }) => (at += step))
      return {
        x,
        y: rows.map(({ noise }, i) => rise * x[i]! + noise / 40),
        ux: rows.map(row => row.ux / 10),
        uy: rows.map(row => row.uy / 10),
      }
    }),
  )

function expectClose(got: number, expected: number, size = Math.abs(expected)) {
  expect(Math.abs(got - expected), `${String(got)} for ${String(expected)}`).toBeLessThanOrEqual(1e-8 * size + 1e-11)
}

function allFinite(line: FittedLine): boolean {
  const { intercept, slope, interceptSd, slopeSd, covariance, centreX, centreSd } = line
  return [intercept, slope, interceptSd, slopeSd, covariance, centreX, centreSd].every(Number.isFinite)
}

describe('the York line', () => {
  it('is the same line seen from the other side when x and y change places', () => {
    fc.assert(
      fc.property(scattered, ({ x, y, ux, uy }) => {
        const fit = yorkRegression({ x, y, ux, uy })
        const swapped = yorkRegression({ x: y, y: x, ux: uy, uy: ux })
        expectClose(swapped.slope, 1 / fit.slope)
        expectClose(swapped.intercept, -fit.intercept / fit.slope, Math.abs(fit.intercept) + 1)
        expectClose(swapped.chiSquare, fit.chiSquare, fit.chiSquare + 1)
        expectClose(swapped.slopeSd, fit.slopeSd / (fit.slope * fit.slope))
        expectClose(swapped.centreX, fit.intercept + fit.slope * fit.centreX, Math.abs(swapped.centreX) + 1)
      }),
      runs,
    )
  })

  it('moves with x and y', () => {
    fc.assert(
      fc.property(
        scattered,
        fc.integer({ min: -50, max: 50 }),
        fc.integer({ min: -50, max: 50 }),
        (input, right, up) => {
          const fit = yorkRegression(input)
          const moved = yorkRegression({ ...input, x: input.x.map(v => v + right), y: input.y.map(v => v + up) })
          expectClose(moved.slope, fit.slope)
          expectClose(moved.intercept, fit.intercept + up - fit.slope * right, 1000)
          expectClose(moved.slopeSd, fit.slopeSd)
          expectClose(moved.centreX, fit.centreX + right, 1000)
          expectClose(moved.centreSd, fit.centreSd)
        },
      ),
      runs,
    )
  })

  it('stretches with the units of x and y', () => {
    fc.assert(
      fc.property(scattered, fc.constantFrom(0.001, 0.1, 8), fc.constantFrom(0.001, 3, 1000), (input, byX, byY) => {
        const fit = yorkRegression(input)
        const stretched = yorkRegression({
          x: input.x.map(v => v * byX),
          ux: input.ux.map(v => v * byX),
          y: input.y.map(v => v * byY),
          uy: input.uy.map(v => v * byY),
        })
        expectClose(stretched.slope, (fit.slope * byY) / byX)
        expectClose(stretched.intercept, fit.intercept * byY, (Math.abs(fit.intercept) + 1) * byY)
        expectClose(stretched.slopeSd, (fit.slopeSd * byY) / byX)
        expectClose(stretched.interceptSd, fit.interceptSd * byY)
        expectClose(stretched.chiSquare, fit.chiSquare, fit.chiSquare + 1)
      }),
      runs,
    )
  })

  it('settles where the level is a thousand times its spread', () => {
    fc.assert(
      fc.property(scattered, input => {
        const high = { ...input, x: input.x.map(v => v + 20_000), y: input.y.map(v => v + 20_000) }
        expect(yorkRegression(high).converged).toBe(true)
      }),
      runs,
    )
  })

  it('is ordinary least squares, intervals too, where only y is uncertain, evenly, and the scatter tells how much', () => {
    fc.assert(
      fc.property(scattered, ({ x, y }) => {
        const ols = ordinaryLeastSquares(x, y)
        fc.pre(ols.residualSd > 1e-3)
        const even = { x, y, ux: x.map(() => 0), uy: x.map(() => 0.5 * ols.residualSd) }
        const york = scaledByScatter(yorkRegression(even))
        expect(york.df).toBe(ols.df)
        expectClose(york.slope, ols.slope)
        expectClose(york.slopeSd, ols.slopeSd)
        expectClose(york.interceptSd, ols.interceptSd)
        expectClose(york.covariance, ols.covariance)
      }),
      runs,
    )
  })

  it('leaves nothing over on an exact line, and is widened only by scatter', () => {
    const x = [0.02, 0.05, 0.11, 0.3]
    const input = { x, y: x.map(v => 0.01 + 1.2 * v), ux: x.map(() => 0.004), uy: x.map(() => 0.002) }
    const exact = yorkRegression(input)
    expectClose(exact.slope, 1.2)
    expectClose(exact.intercept, 0.01)
    expect(exact.chiSquare).toBeLessThan(1e-20)
    expect(scaledByScatter(exact)).toBe(exact)
    expect(exact.df).toBe(Infinity)
    const scaled = scaledByScatter({ ...exact, chiSquare: 18 })
    expectClose(scaled.slopeSd, 3 * exact.slopeSd)
    expectClose(scaled.interceptSd, 3 * exact.interceptSd)
    expectClose(scaled.covariance, 9 * exact.covariance)
    expect(scaled.df).toBe(2)
  })

  it('never has an error of its own that is no number', () => {
    const wild = fc.array(
      fc.tuple(fc.integer({ min: -99, max: 99 }), fc.integer({ min: -99, max: 99 }), fc.integer({ min: 0, max: 9 })),
      { minLength: 3, maxLength: 12 },
    )
    fc.assert(
      fc.property(wild, rows => {
        const x = rows.map(([one]) => one)
        fc.pre(new Set(x).size > 1)
        const y = rows.map(([, one]) => one)
        const york: YorkLine = yorkRegression({ x, y, ux: rows.map(([, , u]) => u), uy: rows.map(() => 1) })
        expect(allFinite(ordinaryLeastSquares(x, y))).toBe(true)
        if (york.converged) expect(allFinite(scaledByScatter(york)) && york.chiSquare >= 0).toBe(true)
      }),
      runs,
    )
  })
})

describe('predicted value', () => {
  it('has the variance that intercept, slope and covariance give, least at the centre', () => {
    fc.assert(
      fc.property(scattered, fc.integer({ min: -30, max: 90 }), (input, x) => {
        const fit = yorkRegression(input)
        const { value, sd } = predictedValue(fit, x)
        expect(value).toBe(fit.intercept + fit.slope * x)
        const variance = fit.interceptSd ** 2 + (x * fit.slopeSd) ** 2 + 2 * x * fit.covariance
        expectClose(sd * sd, variance, fit.interceptSd ** 2 + (x * fit.slopeSd) ** 2)
        expect(sd).toBeGreaterThanOrEqual(predictedValue(fit, fit.centreX).sd)
      }),
      runs,
    )
  })

  // Factors of the normal and t tables: 1.960, 2.576; 3.182 and 12.706 for 3 and 1 degrees of freedom.
  it.each([
    [Infinity, 0.95, 1.96],
    [Infinity, 0.99, 2.576],
    [3, 0.95, 3.182],
    [1, 0.95, 12.706],
  ])('is bounded by the factor for %s degrees of freedom at %s', (df, coverage, factor) => {
    const [lower, upper] = estimateInterval({ value: 5, sd: 2 }, df, coverage)
    expect((upper - 5) / 2).toBeCloseTo(factor, 3)
    expect(lower + upper).toBeCloseTo(10, 12)
  })

  it('refuses a coverage that is none', () => {
    for (const coverage of [0, 1, NaN])
      expect(() => estimateInterval({ value: 0, sd: 1 }, 3, coverage)).toThrow(/coverage must be above 0 and below 1/)
  })
})

describe('what the levels bear', () => {
  it('is the slope error of the fit where x has no uncertainty, whatever the fit', () => {
    fc.assert(
      fc.property(scattered, ({ x, y, uy }) => {
        const ux = x.map(() => 0)
        expectClose(slopeSdOfIdentity({ x, ux, uy }), yorkRegression({ x, y, ux, uy }).slopeSd)
      }),
      runs,
    )
  })

  it('is nothing where the x spread no more than their uncertainty', () => {
    const uy = [0.001, 0.001, 0.001, 0.001]
    expect(slopeSdOfIdentity({ x: [0.05, 0.06, 0.05, 0.06], ux: [0.01, 0.01, 0.01, 0.01], uy })).toBe(Infinity)
    expect(slopeSdOfIdentity({ x: [0.05, 0.05, 0.05, 0.05], ux: [0, 0, 0, 0], uy })).toBe(Infinity)
    expect(slopeSdOfIdentity({ x: [0.05, 0.25, 0.05, 0.25], ux: [0.01, 0.01, 0.01, 0.01], uy })).toBeLessThan(0.06)
  })

  it('refuses uncertainties that are none', () => {
    expect(() => slopeSdOfIdentity({ x: [1, 2], ux: [0, 0], uy: [0, 1] })).toThrow(/uy\[0\] must be above 0, got 0/)
  })
})
