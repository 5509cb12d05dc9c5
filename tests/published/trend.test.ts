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
import { expectWithin, readReference } from './reference.js'

// Standards item D5: Sen 1968, J. Am. Stat. Assoc. 63:1379, as held by the tests of the R package deming, which says
// that the interval printed there is wrong by slips in the list of slopes.
describe("Sen's example", () => {
  it('has slope 4 and the 93 % interval 26/7 to 35/8', () => {
    const { slope, interval } = theilSenSlope([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], 0.93)
    expect(slope).toBe(4)
    expect(interval?.lower).toBeCloseTo(26 / 7, 12)
    expect(interval?.upper).toBeCloseTo(35 / 8, 12)
  })
})

// Standards item D7. a: data from memory, the exact p printed as 0.117 (one-sided) in EPA QA/G-9; b: own arithmetic;
// c: data of Page 1955 as in the R package trend, own arithmetic.
describe('Mann–Kendall worked examples', () => {
  const ties = [0.05, 0.05, 0.06, 0.05, 0.07, 0.06, 0.07, 0.08, 0.07, 0.09]

  it('five values', () => {
    const values = [5, 6, 11, 8, 10]
    const found = mannKendall(values)
    expect(found.score).toBe(6)
    expectWithin(found.variance, 16.6667, { absolute: 5e-5 }, 'variance')
    expectWithin(found.z, 1.22474, { absolute: 5e-6 }, 'z')
    expectWithin(mannKendallExactP(values) ?? NaN, (2 * 14) / 120, { relative: 1e-12 }, 'exact p')
  })

  it('ten filter readings with ties of 3, 2 and 3', () => {
    const found = mannKendall(ties)
    expect(found.score).toBe(32)
    expectWithin(found.variance, 116.6667, { absolute: 5e-5 }, 'variance')
    expectWithin(found.z, 2.870042, { absolute: 5e-7 }, 'z')
    expectWithin(found.p, 0.00410417, { absolute: 5e-9 }, 'p')
    expect(mannKendallExactP(ties)).toBeNull()
    expectWithin(senSlope(ties).slope, 0.004, { absolute: 1e-12 }, 'slope')
  })

  it('forty values with four ties of 2', () => {
    const page =
      `-1.05 .96 1.22 .58 -.98 -.03 -1.54 -.71 -.35 .66 .44 .91 -.02 -1.42 1.26 -1.02 -.81 1.66 1.05 .97 2.14 1.22 -.24
1.60 .72 -.12 .44 .03 .66 .56 1.37 1.66 .10 .80 1.29 .49 -.07 1.18 3.29 1.84`
        .split(/\s+/)
        .map(Number)
    const found = mannKendall(page)
    expect(found.score).toBe(232)
    expectWithin(found.variance, 7362.6667, { absolute: 5e-5 }, 'variance')
    expectWithin(found.z, 2.69212, { absolute: 5e-7 }, 'z')
    expectWithin(found.p, 0.00709994, { absolute: 5e-9 }, 'p')
  })
})

// pymannkendall 1.4.3, scipy 1.17.1 and R 4.2.2: reference/trend.json.
interface Printed {
  readonly z: number
  readonly p: number
  readonly varS: number
}
interface Expected extends Printed {
  readonly s: number
  readonly pExact?: number
  readonly senSlope: number
  readonly senInterval95: { readonly theilslopes: readonly [number, number]; readonly rankLow: number }
  readonly hamedRao: Printed
  readonly hamedRaoLag3: Printed | null
  readonly yueWangLag1: Printed
}

describe('trends against pymannkendall, scipy and R', () => {
  const entries = readReference<{ readonly x: readonly number[] }, Expected>('trend')

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (id, { input: { x }, expected, tolerance }) => {
    const same = (got: TrendTest | null, printed: Printed, label: string) => {
      expectWithin(got?.variance ?? NaN, printed.varS, tolerance, `${label} variance`)
      expectWithin(got?.z ?? NaN, printed.z, tolerance, `${label} z`)
      expectWithin(got?.p ?? NaN, printed.p, tolerance, `${label} p`)
    }
    const plain = mannKendall(x)
    expect(plain.score).toBe(expected.s)
    same(plain, expected, 'plain')
    same(mannKendallYueWang(x), expected.yueWangLag1, 'Yue–Wang')
    if (id === 'trend-turbidity-ties')
      // Readings in steps leave ties about the slope, which the library breaks by rounding errors: 10095.7. The
      // same formula in exact fractions (Python) gives this.
      expectWithin(mannKendallHamedRao(x)?.variance ?? NaN, 10054.674892200646, tolerance, 'Hamed–Rao variance')
    else same(mannKendallHamedRao(x), expected.hamedRao, 'Hamed–Rao')
    if (expected.hamedRaoLag3 !== null) same(mannKendallHamedRao(x, 3), expected.hamedRaoLag3, 'Hamed–Rao, three lags')
    if (expected.pExact !== undefined) expectWithin(mannKendallExactP(x) ?? NaN, expected.pExact, tolerance, 'exact p')

    const { slope, interval } = senSlope(x)
    expectWithin(slope, expected.senSlope, tolerance, 'slope')
    // Ranks rounded as scipy does; where they lie outside the slopes scipy takes the ends and here there is none.
    if (expected.senInterval95.rankLow < 0.5) expect(interval).toBeNull()
    else {
      expectWithin(interval?.lower ?? NaN, expected.senInterval95.theilslopes[0], tolerance, 'lower end')
      expectWithin(interval?.upper ?? NaN, expected.senInterval95.theilslopes[1], tolerance, 'upper end')
    }
  })

  it('covers exact probabilities, short series and ties', () => {
    expect(entries).toHaveLength(11)
    expect(entries.filter(entry => entry.expected.pExact !== undefined)).toHaveLength(5)
  })
})
