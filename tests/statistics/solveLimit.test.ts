import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { cappedArl, twoSidedArl } from '../../src/statistics/cusumRunLength.js'
import { LIMIT_FLOOR_SIGMA, solveOneSidedLimit, solveTwoSidedLimit } from '../../src/statistics/solveLimit.js'

const runs = { seed: 20_260_304, numRuns: 40 } // the seed only pins the generated cases

describe('limit of the capped chart', () => {
  it('gives the run length asked for, to the six digits of the limit', () => {
    const request = fc.record({
      k: fc.double({ min: 0.15, max: 6, noNaN: true }),
      arl: fc.double({ min: 50, max: 1e7, noNaN: true }),
      headStartFraction: fc.constantFrom(0, 0.15),
    })
    fc.assert(
      fc.property(request, ({ k, arl, headStartFraction }) => {
        const h = solveOneSidedLimit({ k, arl, capFraction: 0.4, headStartFraction })
        const got = cappedArl({ k, h, shift: 0, cap: h * 0.4, headStart: h * headStartFraction })
        if (h === LIMIT_FLOOR_SIGMA) expect(got).toBeGreaterThanOrEqual(arl)
        else expect(Math.abs(got / arl - 1)).toBeLessThan(2e-4)
      }),
      runs,
    )
  })

  it('gives the run length asked for with two sides', () => {
    const request = fc.record({
      k: fc.double({ min: 0.15, max: 3, noNaN: true }),
      arl: fc.double({ min: 50, max: 1e7, noNaN: true }),
      headStartFraction: fc.constantFrom(0, 0.15, 0.5),
      capFraction: fc.constantFrom(0.4, Infinity),
    })
    fc.assert(
      fc.property(request, ({ k, arl, headStartFraction, capFraction }) => {
        const h = solveTwoSidedLimit({ k, arl, capFraction, headStartFraction })
        const got = twoSidedArl({ k, h, shift: 0, cap: h * capFraction, headStart: h * headStartFraction })
        if (h === LIMIT_FLOOR_SIGMA) expect(got).toBeGreaterThanOrEqual(arl)
        else expect(Math.abs(got / arl - 1)).toBeLessThan(2e-4)
      }),
      { ...runs, numRuns: 12 },
    )
  })

  it('rises with the run length and with the head start, and is lower with a cap', () => {
    const at = (arl: number, rest: object = {}) => solveOneSidedLimit({ k: 0.5, arl, capFraction: 0.4, ...rest })
    expect([1e3, 1e4, 1e5].map(arl => at(arl))).toEqual([1e3, 1e4, 1e5].map(arl => at(arl)).sort((a, b) => a - b))
    expect(at(1000, { headStartFraction: 0.5 })).toBeGreaterThan(at(1000))
    expect(at(1000)).toBeLessThan(solveOneSidedLimit({ k: 0.5, arl: 1000 }))
  })

  it('solves small and large reference values and stops at the floor', () => {
    expect(solveOneSidedLimit({ k: 0.02, arl: 1e7, capFraction: 0.4 })).toBeCloseTo(223.546, 3) // cap out of reach
    expect(solveOneSidedLimit({ k: 0.02, arl: 1e7 })).toBeCloseTo(223.546, 3)
    expect(solveOneSidedLimit({ k: 6, arl: 1e7, capFraction: 0.4 })).toBe(LIMIT_FLOOR_SIGMA)
    expect(solveTwoSidedLimit({ k: 6, arl: 1e7 })).toBe(LIMIT_FLOOR_SIGMA)
  })

  it('takes the shift as part of the distance to k', () => {
    expect(solveOneSidedLimit({ k: 1.25, shift: 0.75, arl: 500 })).toBe(solveOneSidedLimit({ k: 0.5, arl: 500 }))
  })

  it('is rounded to six significant digits', () => {
    const h = solveOneSidedLimit({ k: 0.7, arl: 12_345, capFraction: 0.4 })
    expect(h).toBe(Number(h.toPrecision(6)))
  })

  it('refuses requests without an answer, naming the value', () => {
    expect(() => solveOneSidedLimit({ k: 0.5, arl: 1 })).toThrow(/arl must be above 1 and at most 1e12, got 1/)
    expect(() => solveOneSidedLimit({ k: 0.5, arl: NaN })).toThrow(/arl/)
    expect(() => solveOneSidedLimit({ k: 0.5, shift: 0.5, arl: 500 })).toThrow(/k must be at least 0.01 above shift/)
    expect(() => solveOneSidedLimit({ k: 0.5, arl: 500, capFraction: 0 })).toThrow(/capFraction/)
    expect(() => solveTwoSidedLimit({ k: 0.5, arl: 500, headStartFraction: 0.6 })).toThrow(
      /headStartFraction must be from 0 to 0.5, got 0.6/,
    )
  })
})
