import { describe, expect, it } from 'vitest'
import {
  chiSquareCdf,
  chiSquareQuantile,
  exp,
  fCdf,
  fQuantile,
  ln,
  normalCdf,
  normalPdf,
  normalQuantile,
  normalUpperTail,
  tCdf,
  tQuantile,
} from '../../src/statistics/distributions.js'
import { expectWithin, readReference } from './reference.js'

// Values from 60-digit arithmetic (mpmath), checked against scipy: reference/distributions.json.
interface Input {
  readonly distribution: 'normal' | 't' | 'chi2' | 'f' | 'beta'
  readonly parameters: readonly number[]
  readonly x?: readonly number[]
  readonly p?: readonly number[]
}
interface Expected {
  readonly cdf?: readonly number[]
  readonly sf?: readonly number[]
  readonly ppf?: readonly number[]
}

const cdfs = {
  normal: (x: number) => normalCdf(x),
  t: (x: number, df = NaN) => tCdf(x, df),
  chi2: (x: number, df = NaN) => chiSquareCdf(x, df),
  f: (x: number, df1 = NaN, df2 = NaN) => fCdf(x, df1, df2),
}
const quantiles = {
  normal: (p: number) => normalQuantile(p),
  t: (p: number, df = NaN) => tQuantile(p, df),
  chi2: (p: number, df = NaN) => chiSquareQuantile(p, df),
  f: (p: number, df1 = NaN, df2 = NaN) => fQuantile(p, df1, df2),
}

describe('distributions against 60-digit arithmetic', () => {
  for (const { id, input, expected, tolerance } of readReference<Input, Expected>('distributions')) {
    const name = input.distribution
    if (name === 'beta') continue // no beta distribution here
    it(id, () => {
      input.x?.forEach((x, i) => {
        expectWithin(cdfs[name](x, ...input.parameters), expected.cdf?.[i] ?? NaN, tolerance, `cdf(${x})`)
      })
      input.p?.forEach((p, i) => {
        expectWithin(quantiles[name](p, ...input.parameters), expected.ppf?.[i] ?? NaN, tolerance, `quantile(${p})`)
      })
      if (name === 'normal')
        input.x?.forEach((x, i) => {
          expectWithin(normalUpperTail(x), expected.sf?.[i] ?? NaN, tolerance, `upper tail(${x})`)
        })
    })
  }

  it('keeps relative precision in the far normal tails', () => {
    expectWithin(normalCdf(-20), 2.7536241186062337e-89, { relative: 1e-12 }, 'cdf(-20)')
    expectWithin(normalUpperTail(10), 7.619853024160525e-24, { relative: 1e-12 }, 'upper tail(10)')
  })
})

// Coverage factors t(0.975) printed in JCGM 100:2008 (GUM), table G.2, three decimals.
describe('coverage factors of the GUM', () => {
  it.each([
    [1, 12.706],
    [2, 4.303],
    [5, 2.571],
    [10, 2.228],
    [30, 2.042],
    [100, 1.984],
  ])('df %i', (df, printed) => {
    expect(tQuantile(0.975, df)).toBeCloseTo(printed, 3)
  })
})

describe('elementary functions', () => {
  it('gives the constants of mathematics', () => {
    expectWithin(exp(1), 2.718281828459045, { relative: 1e-15 }, 'e')
    expectWithin(ln(2), 0.6931471805599453, { relative: 1e-15 }, 'ln 2')
    expectWithin(normalPdf(0), 1 / Math.sqrt(2 * Math.PI), { relative: 1e-15 }, 'density at 0')
    expect(exp(-Infinity)).toBe(0)
    expect(ln(0)).toBe(-Infinity)
  })

  it('refuses what is no probability and no degree of freedom', () => {
    expect(() => normalQuantile(1.2)).toThrow(/p must be a probability from 0 to 1, got 1.2/)
    expect(() => normalQuantile(NaN)).toThrow(RangeError)
    expect(() => tQuantile(0.5, 0)).toThrow(/df must be above 0, got 0/)
    expect(() => fCdf(1, 2, -1)).toThrow(/df2 must be above 0, got -1/)
    expect(normalQuantile(0)).toBe(-Infinity)
    expect(normalQuantile(1)).toBe(Infinity)
  })
})
