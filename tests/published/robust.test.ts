import { describe, expect, it } from 'vitest'
import { hampelOutliers } from '../../src/statistics/hampel.js'
import { hodgesLehmannLocation, hodgesLehmannShift } from '../../src/statistics/hodgesLehmann.js'
import { qn, QN_TO_SIGMA, qnOrderStatistic } from '../../src/statistics/qn.js'
import { MAD_TO_SIGMA, madSigma, median, medianAbsoluteDeviation, quantile } from '../../src/statistics/robust.js'
import { expectWithin, readReference } from './reference.js'

// R 4.2.2 (robustbase), astropy and own order statistics: reference/robust.json.
interface Input {
  readonly x: readonly number[]
  readonly p?: readonly number[]
}
interface Expected {
  readonly median: number
  readonly mad: number
  readonly madRaw: number
  readonly quantile7: readonly number[]
  readonly hampelIdentifierFlags: readonly number[]
  readonly qnRaw: number
  readonly qn: number
  readonly qnNoFinite: number
  readonly hodgesLehmann: number
}

describe('robust location and scale against R', () => {
  const entries = readReference<Input, Expected>('robust').filter(entry => entry.id.startsWith('robust-'))
  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, tolerance }) => {
    expectWithin(median(input.x), expected.median, tolerance, 'median')
    expectWithin(medianAbsoluteDeviation(input.x), expected.madRaw, tolerance, 'MAD')
    // R multiplies by 1.4826 where the exact factor is 1.482602…
    expectWithin((madSigma(input.x) * 1.4826) / MAD_TO_SIGMA, expected.mad, tolerance, 'MAD sigma')
    input.p?.forEach((p, i) => {
      expectWithin(quantile(input.x, p), expected.quantile7[i] ?? NaN, tolerance, `quantile(${p})`)
    })
    if (expected.mad > 0) {
      const { high, low } = hampelOutliers(input.x, 3.5, 1e-12)
      expect([...high, ...low].sort((a, b) => a - b)).toEqual(expected.hampelIdentifierFlags)
    }
    expectWithin(hodgesLehmannLocation(input.x).estimate, expected.hodgesLehmann, tolerance, 'Hodges–Lehmann')
    if (input.x.length < 2) return
    expect(qnOrderStatistic(input.x)).toBe(expected.qnRaw)
    // R's factor for large samples is rounded to 2.21914; the small-sample factor is the quotient of its two values.
    if (expected.qn > 0)
      expectWithin(
        qn(input.x) / qnOrderStatistic(input.x) / QN_TO_SIGMA,
        expected.qn / expected.qnNoFinite,
        tolerance,
        'Qn',
      )
    else expect(qn(input.x)).toBe(0)
  })
})

// Standards item D9: Hampel identifier at t = 3.5, after Iglewicz and Hoaglin as in the NIST/SEMATECH e-Handbook
// 1.3.5.17 (modified z above 3.5); the series is an own example computed by hand.
describe('Hampel identifier on ten filter readings', () => {
  const readings = [0.05, 0.051, 0.049, 0.05, 0.052, 0.08, 0.05, 0.051, 0.11, 0.049]

  it('flags the two bubbles and nothing below', () => {
    const found = hampelOutliers(readings, 3.5, 0.001)
    expect(found.median).toBeCloseTo(0.0505, 12)
    expect(found.sigma).toBeCloseTo(0.001482602218505602, 12)
    expect(found.median + 3.5 * found.sigma).toBeCloseTo(0.0556891, 7)
    expect(found.high).toEqual([5, 8])
    expect(found.low).toEqual([])
  })

  it('has the factor 1/Φ⁻¹(3/4)', () => {
    expect(medianAbsoluteDeviation(readings)).toBeCloseTo(0.001, 12)
    expect(MAD_TO_SIGMA).toBe(1.482602218505602)
  })
})

// R 4.2.2 wilcox.test with exact = TRUE: reference/robust.json.
interface RankExpected {
  readonly location?: number
  readonly shift?: number
  readonly ci95: readonly [number, number]
}

describe('Hodges–Lehmann estimates and their exact intervals against R', () => {
  const entries = readReference<{ readonly x: readonly number[]; readonly y?: readonly number[] }, RankExpected>(
    'robust',
  ).filter(entry => entry.id.startsWith('hodges-lehmann-'))

  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected, tolerance }) => {
    const found = input.y === undefined ? hodgesLehmannLocation(input.x) : hodgesLehmannShift(input.x, input.y)
    expectWithin(found.estimate, expected.location ?? expected.shift ?? NaN, tolerance, 'estimate')
    expectWithin(found.interval?.lower ?? NaN, expected.ci95[0], tolerance, 'lower end')
    expectWithin(found.interval?.upper ?? NaN, expected.ci95[1], tolerance, 'upper end')
  })

  it('covers both kinds', () => {
    expect(entries).toHaveLength(4)
  })
})
