import { describe, expect, it } from 'vitest'
import { CAP_FRACTION } from '../../src/detect/chart.js'
import { solveLimit } from '../../src/detect/limit.js'
import { cappedArl } from '../../src/statistics/cusumRunLength.js'
import { LIMIT_FLOOR_SIGMA } from '../../src/statistics/solveLimit.js'

const REQUEST = { u: Math.exp(-1), delta0: 0.25, delta1: 0.6, valuesPerDay: 1, budgetYears: 5, sides: 2 }

describe('limit of a chart', () => {
  it.each([
    [1, 2, 5 * 365.25 * 2],
    [Math.E, 2, 5 * 365.25 * 2 * Math.E],
    [1, 4, 5 * 365.25 * 4],
  ])('%d values a day shared by %d sides ask for a run length of %d', (valuesPerDay, sides, arl) => {
    expect(solveLimit({ ...REQUEST, valuesPerDay, sides }).arl / arl).toBeCloseTo(1, 4)
  })

  it.each([0.5, 1, 2])('keeps that run length with the bias at delta0 and capped increments, u = e^-%d', exponent => {
    const u = Math.exp(-exponent)
    const { limit, arl } = solveLimit({ ...REQUEST, u })
    const k = (0.6 - 0.25) / (2 * u)
    const h = limit / (2 * k)
    if (h > LIMIT_FLOOR_SIGMA) expect(cappedArl({ k, h, shift: 0, cap: CAP_FRACTION * h }) / arl).toBeCloseTo(1, 2)
    else expect(cappedArl({ k, h, shift: 0, cap: CAP_FRACTION * h })).toBeGreaterThanOrEqual(arl)
  })

  it('rises with the budget, with the rate and with the sides that share it', () => {
    const { limit } = solveLimit(REQUEST)
    expect(solveLimit({ ...REQUEST, budgetYears: 20 }).limit).toBeGreaterThan(limit)
    expect(solveLimit({ ...REQUEST, valuesPerDay: 4 }).limit).toBeGreaterThan(limit)
    expect(solveLimit({ ...REQUEST, sides: 4 }).limit).toBeGreaterThan(limit)
  })

  it('does not move while the uncertainty wanders by one per cent', () => {
    const near = [0.99, 0.995, 1, 1.005, 1.01].map(factor => solveLimit({ ...REQUEST, u: REQUEST.u * factor }))
    expect(new Set(near.map(({ solvedFor, limit }) => `${solvedFor} ${limit}`)).size).toBe(1)
  })

  it('moves in few steps while the uncertainty doubles', () => {
    const limits = Array.from({ length: 300 }, (_, i) => solveLimit({ ...REQUEST, u: 0.2 * 2 ** (i / 300) }).limit)
    expect(new Set(limits).size).toBeLessThanOrEqual(27)
    expect(new Set(limits).size).toBeGreaterThan(20)
  })

  it('keeps the run length of the uncertainty and rate that are, not of those on the grid, to 5 %', () => {
    for (const [u, valuesPerDay] of Array.from(
      { length: 24 },
      (_, i) => [0.15 * 1.0713 ** i, 1 + 0.137 * i] as const,
    )) {
      const { limit } = solveLimit({ ...REQUEST, u, valuesPerDay })
      const k = (0.6 - 0.25) / (2 * u)
      const h = limit / (2 * k)
      expect(h).toBeGreaterThan(1.1 * LIMIT_FLOOR_SIGMA)
      const asked = 5 * 365.25 * valuesPerDay * 2
      expect(Math.abs(cappedArl({ k, h, shift: 0, cap: CAP_FRACTION * h }) / asked - 1)).toBeLessThan(0.05)
    }
  })

  it('has a floor where the band alone keeps the budget', () => {
    const u = Math.exp(-3)
    expect(solveLimit({ ...REQUEST, u }).limit).toBeCloseTo((LIMIT_FLOOR_SIGMA * (0.6 - 0.25)) / u, 3)
  })
})
