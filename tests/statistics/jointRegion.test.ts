import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { fittedLine } from '../../src/statistics/fittedLine.js'
import {
  IDENTITY,
  isInJointRegion,
  jointLimit,
  jointRegionOutline,
  jointStatistic,
} from '../../src/statistics/jointRegion.js'
import { scaledByScatter, yorkRegression } from '../../src/statistics/yorkRegression.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_308, numRuns: 150 } // the seed only pins the generated cases

const lines = fc
  .record({
    intercept: fc.integer({ min: -50, max: 50 }),
    slope: fc.integer({ min: -30, max: 30 }),
    centreX: fc.integer({ min: -200, max: 200 }),
    centreSd: fc.integer({ min: 1, max: 50 }),
    slopeSd: fc.integer({ min: 1, max: 50 }),
    df: fc.constantFrom(1, 3, 30, Infinity),
  })
  .map(({ df, ...tenths }) => {
    const { intercept, slope, centreX, centreSd, slopeSd } = tenths
    return fittedLine({
      intercept: intercept / 10,
      slope: slope / 10,
      centreX: centreX / 10,
      centreSd: centreSd / 10,
      slopeSd: slopeSd / 10,
      df,
      n: 5,
    })
  })

describe('the joint region', () => {
  it('has d′ V⁻¹ d with the covariance matrix for its distance', () => {
    fc.assert(
      fc.property(lines, fc.integer({ min: -9, max: 9 }), fc.integer({ min: -9, max: 9 }), (line, intercept, slope) => {
        const [a, b] = [intercept - line.intercept, slope - line.slope]
        const [va, vb, cov] = [line.interceptSd ** 2, line.slopeSd ** 2, line.covariance]
        const plain = (a * a * vb - 2 * a * b * cov + b * b * va) / (va * vb - cov * cov)
        const got = jointStatistic(line, { intercept, slope })
        expect(Math.abs(got - plain)).toBeLessThanOrEqual(1e-6 * (plain + 1))
      }),
      runs,
    )
  })

  it('ends where its outline runs', () => {
    fc.assert(
      fc.property(lines, fc.integer({ min: 0, max: 5 }), (line, halvings) => {
        const outline = jointRegionOutline(line, halvings)
        expect(outline).toHaveLength(4 * 2 ** halvings)
        const limit = jointLimit(line.df)
        for (const point of outline) {
          expect(Math.abs(jointStatistic(line, point) / limit - 1)).toBeLessThan(1e-6)
          const towards = (share: number) => ({
            intercept: line.intercept + share * (point.intercept - line.intercept),
            slope: line.slope + share * (point.slope - line.slope),
          })
          expect([isInJointRegion(line, towards(0.999)), isInJointRegion(line, towards(1.001))]).toEqual([true, false])
        }
      }),
      { ...runs, numRuns: 60 },
    )
  })

  // Tables: chi-square(0.95; 2) = 5.991, (0.99; 2) = 9.210; F(0.95; 2, 3) = 9.552, F(0.95; 2, 30) = 3.316.
  it.each([
    [Infinity, 0.95, 5.991],
    [Infinity, 0.99, 9.21],
    [3, 0.95, 2 * 9.552],
    [30, 0.95, 2 * 3.316],
  ])('is limited for %s degrees of freedom at %s by %s', (df, coverage, limit) => {
    expect(Math.abs(jointLimit(df, coverage) - limit)).toBeLessThan(1.1e-3)
  })

  it('of a line without uncertainty is that line alone', () => {
    const exact = fittedLine({ intercept: 0, slope: 1, centreX: 0, centreSd: 0, slopeSd: 0, df: Infinity, n: 3 })
    expect(isInJointRegion(exact, IDENTITY)).toBe(true)
    expect(isInJointRegion(exact, { intercept: 0.001, slope: 1 })).toBe(false)
    expect(jointRegionOutline(exact, 1).every(({ intercept, slope }) => intercept === 0 && slope === 1)).toBe(true)
  })

  it('refuses a coverage or a number of points that is none', () => {
    const line = fittedLine({ intercept: 0, slope: 1, centreX: 1, centreSd: 1, slopeSd: 1, df: 3, n: 5 })
    expect(() => jointLimit(3, 1)).toThrow(/coverage must be above 0 and below 1, got 1/)
    expect(() => jointRegionOutline(line, 1.5)).toThrow(/halvings must be a whole number from 0 to 10, got 1.5/)
    expect(() => jointRegionOutline(line, 11)).toThrow(/halvings/)
  })

  // Own simulation; the bounds are four standard errors of 600 draws about 0.95.
  it('holds the true line 95 times in 100 where the levels bear one', () => {
    const normal = normalSource(20_260_309)
    let inside = 0
    const draws = 600
    for (let draw = 0; draw < draws; draw++) {
      const truth = Array.from({ length: 25 }, (_, i) => 0.05 + 0.01 * i)
      const ux = truth.map(level => Math.hypot(0.01, 0.03 * level))
      const uy = truth.map(level => Math.hypot(0.002, 0.01 * level))
      const fit = yorkRegression({
        x: truth.map((level, i) => level + ux[i]! * normal()),
        y: truth.map((level, i) => 0.02 + 0.9 * level + uy[i]! * normal()),
        ux,
        uy,
      })
      if (isInJointRegion(scaledByScatter(fit), { intercept: 0.02, slope: 0.9 })) inside++
    }
    expect(inside / draws).toBeGreaterThan(0.95 - 4 * Math.sqrt((0.95 * 0.05) / draws))
    expect(inside / draws).toBeLessThan(0.95 + 4 * Math.sqrt((0.95 * 0.05) / draws))
  })
})
