import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { cappedArl, twoSidedArl } from '../../src/statistics/cusumRunLength.js'
import { driftArl, twoSidedDriftArl } from '../../src/statistics/driftRunLength.js'
import { normalSource } from './random.js'
import { cusumRun, simulate } from './simulatedRuns.js'

const runs = { seed: 20_260_309, numRuns: 8 } // the seed only pins the generated cases
const ALLOWANCE = 1 + 1e-8
const chart = fc.record({
  k: fc.double({ min: 0.1, max: 1, noNaN: true }),
  h: fc.double({ min: 0.3, max: 5, noNaN: true }),
  driftPerValue: fc.double({ min: 0.05, max: 1, noNaN: true }),
  firstMean: fc.double({ min: -1, max: 1, noNaN: true }),
})

describe('run lengths under a drift', () => {
  it('are at least one, shorter with faster drift, with two sides and with a head start, not shorter with a cap', () => {
    fc.assert(
      fc.property(chart, c => {
        const arl = driftArl(c)
        expect(arl).toBeGreaterThanOrEqual(1)
        expect(driftArl({ ...c, driftPerValue: c.driftPerValue + 0.1 })).toBeLessThanOrEqual(arl * ALLOWANCE)
        expect(driftArl({ ...c, headStart: c.h / 2 })).toBeLessThanOrEqual(arl * ALLOWANCE)
        expect(driftArl({ ...c, cap: c.h / 2.5 }) * ALLOWANCE).toBeGreaterThanOrEqual(arl)
        const both = twoSidedDriftArl(c)
        expect(both).toBeGreaterThanOrEqual(1)
        expect(both).toBeLessThanOrEqual(arl * ALLOWANCE)
      }),
      runs,
    )
  })

  it('approach those of a lasting shift as the drift goes to nothing', () => {
    const c = { k: 0.5, h: 2, cap: 0.8, headStart: 0.6 }
    const drifting = { ...c, firstMean: 1, driftPerValue: 1e-7 }
    expect(driftArl(drifting) / cappedArl({ ...c, shift: 1 })).toBeCloseTo(1, 5)
    expect(twoSidedDriftArl(drifting) / twoSidedArl({ ...c, shift: 1 })).toBeCloseTo(1, 5)
    const downward = { ...drifting, firstMean: -1 }
    expect(twoSidedDriftArl(downward) / twoSidedArl({ ...c, shift: -1 })).toBeCloseTo(1, 5)
  })

  it('count the steps a certain input needs', () => {
    expect(driftArl({ k: 1, h: 5, cap: 2, firstMean: 30, driftPerValue: 1 })).toBeCloseTo(3, 12)
    expect(twoSidedDriftArl({ k: 1, h: 5, firstMean: -30, driftPerValue: 1 })).toBeCloseTo(1, 12)
  })

  it('refuses what is out of range, naming the value', () => {
    const good = { k: 0.5, h: 4, driftPerValue: 0.1 }
    expect(() => driftArl({ ...good, driftPerValue: 0 })).toThrow(/driftPerValue must be .* above 0, got 0/)
    expect(() => driftArl({ ...good, firstMean: NaN })).toThrow(/firstMean must be a finite number, got NaN/)
    expect(() => driftArl({ ...good, cap: -1 })).toThrow(/cap must be above 0, got -1/)
    expect(() => twoSidedDriftArl({ ...good, headStart: 3 })).toThrow(/headStart/)
    expect(() => twoSidedDriftArl({ ...good, k: -0.1 })).toThrow(/k of a two-sided chart/)
  })
})

// The chart itself, run on seeded values; the seed pins the sample, the bound is 4 standard errors.
describe('run lengths under a drift against a simulated chart', () => {
  it.each([
    { sides: 1, k: 0.5, h: 3, cap: 1.2, headStart: 0.45, firstMean: 0, driftPerValue: 0.02 },
    { sides: 2, k: 0.5, h: 3, cap: 1.2, headStart: 0.45, firstMean: 0, driftPerValue: 0.02 },
    { sides: 2, k: 0.3, h: 2, cap: Infinity, headStart: 0, firstMean: -0.7, driftPerValue: 0.03 },
    { sides: 2, k: 0, h: 4, cap: 1.6, headStart: 2, firstMean: 0.1, driftPerValue: 0.01 },
  ] as const)('$sides sides, k $k, h $h, cap $cap, head start $headStart, $driftPerValue per value', c => {
    const normal = normalSource(19)
    const { mean, standardError } = simulate(10_000, () => {
      let drifted = c.firstMean - c.driftPerValue
      return cusumRun(c, c.sides, () => (drifted += c.driftPerValue) + normal())
    })
    const arl = (c.sides === 1 ? driftArl : twoSidedDriftArl)(c)
    expect(Math.abs(arl - mean)).toBeLessThan(4 * standardError)
  })
})
