import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  mannKendall,
  mannKendallExactP,
  mannKendallHamedRao,
  mannKendallYueWang,
  type TrendTest,
} from '../../src/statistics/mannKendall.js'
import { senSlope } from '../../src/statistics/senSlope.js'
import { theilSenSlope } from '../../src/statistics/theilSen.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_313, numRuns: 100 } // the seed only pins the generated cases

const series = fc.array(fc.integer({ min: -60, max: 60 }), { minLength: 3, maxLength: 30 })
const shift = fc.integer({ min: -100, max: 100 })
const scale = fc.integer({ min: 1, max: 64 })

function finite(test: TrendTest | null): boolean {
  return (
    test === null || (Object.values(test).every(Number.isFinite) && test.p >= 0 && test.p <= 1 && test.variance >= 0)
  )
}

function autoregression(normal: () => number, n: number, phi: number): number[] {
  let value = normal() / Math.sqrt(1 - phi * phi)
  return Array.from({ length: n }, () => (value = phi * value + normal()))
}

describe('Mann–Kendall', () => {
  it('does not see a shift or a scale, and turns with the series', () => {
    fc.assert(
      fc.property(series, shift, scale, (values, a, b) => {
        const plain = mannKendall(values)
        expect(mannKendall(values.map(x => a + b * x))).toEqual(plain)
        const back = mannKendall([...values].reverse())
        expect(back.score + plain.score).toBe(0)
        expect(back.p).toBe(plain.p)
      }),
      runs,
    )
  })

  it('does not see a shift or a scale where corrected either', () => {
    fc.assert(
      fc.property(series, shift, scale, (values, a, b) => {
        const moved = values.map(x => a + b * x)
        for (const test of [mannKendallYueWang, mannKendallHamedRao]) {
          const [before, after] = [test(values), test(moved)]
          expect(after === null).toBe(before === null)
          if (before !== null) expect(after?.variance).toBeCloseTo(before.variance, 6)
        }
      }),
      runs,
    )
  })

  it('is finite for any finite values, ties and all', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 3 }), { minLength: 3, maxLength: 20 }), values => {
        expect([mannKendall(values), mannKendallYueWang(values), mannKendallHamedRao(values)].every(finite)).toBe(true)
        const { slope, interval } = senSlope(values)
        expect(Number.isFinite(slope)).toBe(true)
        if (interval !== null) expect(interval.lower <= slope && slope <= interval.upper).toBe(true)
      }),
      runs,
    )
  })

  it('has an exact p near the normal one, 2/n! for a series that only rises', () => {
    expect(mannKendallExactP([1, 2, 3, 5])).toBeCloseTo(2 / 24, 15)
    expect(mannKendallExactP([9, 7, 4, 1, 0])).toBeCloseTo(2 / 120, 15)
    expect(mannKendallExactP([2, 1, 4, 3])).toBeCloseTo(0.75, 15) // 9 of 24 orders have four rising pairs or more
    expect(mannKendallExactP([1, 2, 2])).toBeNull()
    expect(mannKendallExactP(Array.from({ length: 41 }, (_, i) => i))).toBeNull()
    const normal = normalSource(3)
    const values = Array.from({ length: 40 }, normal)
    expect(mannKendallExactP(values)).toBeCloseTo(mannKendall(values).p, 2)
  })

  it('says nothing of one value, two, or a constant series', () => {
    expect(mannKendall([4])).toEqual({ score: 0, variance: 0, z: 0, p: 1 })
    expect(mannKendallExactP([4])).toBe(1)
    expect(mannKendall([1, 2])).toEqual({ score: 1, variance: 1, z: 0, p: 1 })
    expect(mannKendall([3, 3, 3, 3])).toEqual({ score: 0, variance: 0, z: 0, p: 1 })
    expect(mannKendallYueWang([3, 3, 3, 3])).toBeNull()
    expect(mannKendallHamedRao([3, 3, 3, 3])).toBeNull()
  })

  it('is not usable where the values swing about the slope so that no variance is left', () => {
    const swinging = Array.from({ length: 20 }, (_, i) => i / 100 + (i % 2))
    expect(mannKendallYueWang(swinging)).toBeNull()
    expect(mannKendallHamedRao(swinging, 1)).toBeNull()
  })

  it('finds no pattern in the rounding errors of a straight line', () => {
    const line = Array.from({ length: 30 }, (_, i) => 100 - 0.1 * i)
    expect(mannKendallYueWang(line)).toEqual(mannKendall(line))
    expect(mannKendallHamedRao(line)).toEqual(mannKendall(line))
  })

  it('calls a trend in autocorrelated values without one about as often as it says, once corrected', () => {
    const normal = normalSource(17)
    const rounds = 300
    let plain = 0
    let corrected = 0
    for (let i = 0; i < rounds; i++) {
      const values = autoregression(normal, 60, 0.5)
      if (mannKendall(values).p < 0.05) plain++
      if ((mannKendallYueWang(values)?.p ?? 1) < 0.05) corrected++
    }
    // Yue and Wang 2004, figure from memory: far above 0.05 without the correction.
    expect(plain / rounds).toBeGreaterThan(0.2)
    expect(corrected / rounds).toBeLessThan(plain / rounds / 1.5)
  })

  it('refuses what it cannot take, naming it', () => {
    expect(() => mannKendall([])).toThrow(/values must not be empty/)
    expect(() => mannKendall([1, NaN])).toThrow(/values\[1\] must be a finite number, got NaN/)
    expect(() => mannKendallYueWang([1])).toThrow(/values must have at least two entries, got 1/)
    expect(() => mannKendallHamedRao([1, 2])).toThrow(/values must have at least three entries, got 2/)
    expect(() => mannKendallHamedRao([1, 2, 3], 3)).toThrow(/maxLag must be a whole number from 1 to 2, got 3/)
  })
})

describe("Sen's slope", () => {
  it('moves and stretches with the values', () => {
    fc.assert(
      fc.property(series, shift, scale, (values, a, b) => {
        const plain = senSlope(values)
        const moved = senSlope(values.map(x => a + b * x))
        expect(moved.slope).toBeCloseTo(b * plain.slope, 9)
        if (plain.interval !== null) expect(moved.interval?.upper).toBeCloseTo(b * plain.interval.upper, 9)
      }),
      runs,
    )
  })

  it('takes pairs in any order', () => {
    fc.assert(
      fc.property(series, values => {
        const x = values.map((_, i) => i * i)
        expect(theilSenSlope([...x].reverse(), [...values].reverse())).toEqual(theilSenSlope(x, values))
      }),
      runs,
    )
  })

  it('has no interval in so short a series, and a point for a constant one', () => {
    expect(senSlope([1, 2])).toEqual({ slope: 1, interval: null })
    expect(senSlope([1, 2, 3, 5]).interval).toBeNull()
    expect(senSlope([4, 4, 4, 4])).toEqual({ slope: 0, interval: { lower: 0, upper: 0 } })
    expect(theilSenSlope([1, 1, 2, 2], [5, 5, 5, 5])).toEqual({ slope: 0, interval: { lower: 0, upper: 0 } })
  })

  it('refuses what bears no slope, naming it', () => {
    expect(() => senSlope([])).toThrow(/values must not be empty/)
    expect(() => senSlope([1])).toThrow(/values must have at least two entries, got 1/)
    expect(() => senSlope([1, 2], 0)).toThrow(/coverage must be above 0 and below 1, got 0/)
    expect(() => theilSenSlope([2, 2], [1, 3])).toThrow(/x must hold at least two different values/)
  })
})
