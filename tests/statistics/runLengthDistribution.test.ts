import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { cappedArl, twoSidedArl } from '../../src/statistics/cusumRunLength.js'
import { runLengthQuantile, twoSidedRunLengthQuantile } from '../../src/statistics/runLengthDistribution.js'
import { normalSource } from './random.js'
import { cusumRun, simulate } from './simulatedRuns.js'

const runs = { seed: 20_260_308, numRuns: 20 } // the seed only pins the generated cases
const chart = fc.record({
  k: fc.double({ min: 0.1, max: 2, noNaN: true }),
  h: fc.double({ min: 0.3, max: 6, noNaN: true }),
  shift: fc.double({ min: -1, max: 3, noNaN: true }),
})

describe('run-length quantiles', () => {
  it('are whole numbers from one on that rise with the probability', () => {
    fc.assert(
      fc.property(chart, fc.constantFrom(0.4, Infinity), (c, capFraction) => {
        for (const quantileOf of [runLengthQuantile, twoSidedRunLengthQuantile]) {
          const quantiles = [0.01, 0.2, 0.5, 0.9, 0.99].map(p => quantileOf({ ...c, p, cap: c.h * capFraction }))
          expect(quantiles).toEqual([...quantiles].sort((a, b) => a - b))
          for (const n of quantiles) expect(n === Infinity || (Number.isInteger(n) && n >= 1)).toBe(true)
        }
      }),
      runs,
    )
  })

  it('average over the probabilities to the average run length', () => {
    const c = { k: 0.5, h: 1.5, shift: 0.4, cap: 0.6 }
    const points = 200
    for (const [quantileOf, arl] of [
      [runLengthQuantile, cappedArl(c)],
      [twoSidedRunLengthQuantile, twoSidedArl(c)],
    ] as const) {
      const mean = Array.from({ length: points }, (_, i) => quantileOf({ ...c, p: (i + 0.5) / points }) / points)
      expect(mean.reduce((sum, n) => sum + n, 0) / arl).toBeCloseTo(1, 2)
    }
  })

  it('of two sides are not above those of one, and those of a chart that one side decides are its own', () => {
    fc.assert(
      fc.property(chart, c => {
        const both = twoSidedRunLengthQuantile({ ...c, p: 0.5 })
        expect(both).toBeLessThanOrEqual(runLengthQuantile({ ...c, p: 0.5 }))
      }),
      runs,
    )
    const decided = { k: 0.5, h: 5, shift: 1.5, p: 0.9 }
    expect(twoSidedRunLengthQuantile(decided)).toBe(runLengthQuantile(decided))
  })

  it('of long runs follow the geometric tail: ln 2 of the ARL at one half', () => {
    const c = { k: 1, h: 8, shift: 0 }
    expect(runLengthQuantile({ ...c, p: 0.5 }) / (Math.LN2 * cappedArl({ ...c, cap: Infinity }))).toBeCloseTo(1, 5)
    expect(twoSidedRunLengthQuantile({ ...c, p: 0.5 }) / (Math.LN2 * twoSidedArl(c))).toBeCloseTo(1, 5)
  })

  it('are endless where no signal is to be expected, not where it is far off', () => {
    expect(runLengthQuantile({ k: 6, h: 15, shift: 0, p: 0.5 })).toBe(Infinity)
    expect(twoSidedRunLengthQuantile({ k: 6, h: 15, shift: 0, p: 0.5 })).toBe(Infinity)
    // Up by 4 each value: above 200 after the 51st but for chance.
    expect(runLengthQuantile({ k: 1, h: 200, shift: 5, p: 0.5 })).toBe(50)
  })

  it('refuses what is out of range, naming the value', () => {
    expect(() => runLengthQuantile({ k: 0.5, h: 4, shift: 0, p: 1 })).toThrow(/p must be above 0 and below 1, got 1/)
    expect(() => twoSidedRunLengthQuantile({ k: 0.5, h: 4, shift: 0, p: NaN })).toThrow(/p must be .* got NaN/)
    expect(() => twoSidedRunLengthQuantile({ k: 0.5, h: 4, shift: 0, p: 0.5, headStart: 3 })).toThrow(/headStart/)
    expect(() => runLengthQuantile({ k: 0.5, h: 4, shift: 0, p: 0.5, cap: 0 })).toThrow(/cap must be above 0, got 0/)
  })
})

// The chart itself, run on seeded values; the seed pins the sample. The share of runs up to the quantile is p or more,
// up to the value before it less, within 4 standard errors.
describe('run-length quantiles against a simulated chart', () => {
  it.each([
    { sides: 1, k: 0.5, h: 3, shift: 0, cap: 1.2, headStart: 0.45 },
    { sides: 2, k: 0.5, h: 3, shift: 0.2, cap: Infinity, headStart: 1.9 },
    { sides: 2, k: 0.3, h: 2, shift: -0.7, cap: 0.8, headStart: 0 },
    { sides: 2, k: 0, h: 4, shift: 0.1, cap: 1.6, headStart: 2 },
  ] as const)('$sides sides, k $k, h $h, shift $shift, cap $cap, head start $headStart', ({ sides, ...chart }) => {
    const normal = normalSource(17)
    const repeats = 10_000
    const { sorted } = simulate(repeats, () => cusumRun(chart, sides, () => chart.shift + normal()))
    const shareUpTo = (n: number) => sorted.filter(run => run <= n).length / repeats
    for (const p of [0.05, 0.5, 0.95]) {
      const n = (sides === 1 ? runLengthQuantile : twoSidedRunLengthQuantile)({ ...chart, p })
      const allowed = 4 * Math.sqrt((p * (1 - p)) / repeats)
      expect(shareUpTo(n)).toBeGreaterThan(p - allowed)
      expect(shareUpTo(n - 1)).toBeLessThan(p + allowed)
    }
  })
})
