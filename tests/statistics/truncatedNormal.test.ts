import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalCdf, normalPdf } from '../../src/statistics/distributions.js'
import { truncatedNormalMoments } from '../../src/statistics/truncatedNormal.js'

const runs = { seed: 20_260_307, numRuns: 100 } // the seed only pins the generated cases

// Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1, section 13.10; fails far out in a tail.
function closedForm(mean: number, sd: number, lower: number, upper: number) {
  const a = (lower - mean) / sd
  const b = (upper - mean) / sd
  const mass = normalCdf(b) - normalCdf(a)
  const first = (normalPdf(a) - normalPdf(b)) / mass
  const second = (a * normalPdf(a) - b * normalPdf(b)) / mass
  return { mean: mean + sd * first, variance: sd * sd * (1 + second - first * first) }
}

// Simpson's rule on log densities taken relative to the peak.
function bySimpson(mean: number, sd: number, lower: number, upper: number) {
  const n = 20_000
  const nearest = Math.max(lower, Math.min(upper, mean))
  const sums = [0, 0, 0]
  for (let i = 0; i <= n; i++) {
    const x = lower + ((upper - lower) * i) / n
    const weight = i === 0 || i === n ? 1 : i % 2 === 1 ? 4 : 2
    const density = weight * Math.exp((((nearest - mean) / sd) ** 2 - ((x - mean) / sd) ** 2) / 2)
    const step = x - nearest
    sums.forEach((_, power) => (sums[power] = (sums[power] ?? NaN) + density * step ** power))
  }
  const [total = NaN, first = NaN, second = NaN] = sums
  return { mean: nearest + first / total, variance: second / total - (first / total) ** 2 }
}

describe('truncated normal moments', () => {
  it.each([
    [0, 1, -1, 1],
    [0.3, 0.5, -1, 1],
    [2, 1, -1, 1],
    [0, 0.2, -1, 1],
    [-3, 2, 0, 7],
  ])('agree with the closed form: mean %d sd %d cut to %d…%d', (mean, sd, lower, upper) => {
    const got = truncatedNormalMoments({ mean, sd, lower, upper })
    const expected = closedForm(mean, sd, lower, upper)
    expect(got.mean).toBeCloseTo(expected.mean, 10)
    expect(got.variance).toBeCloseTo(expected.variance, 10)
  })

  it.each([
    [0, 1, 20, 20.5],
    [0, 1, -41, -40],
    [5, 0.1, -1, 1],
    [0, 10, 0, 0.01],
  ])('agree with Simpson far out in a tail: mean %d sd %d cut to %d…%d', (mean, sd, lower, upper) => {
    const got = truncatedNormalMoments({ mean, sd, lower, upper })
    const expected = bySimpson(mean, sd, lower, upper)
    expect(Math.abs(got.mean / expected.mean - 1)).toBeLessThan(1e-9)
    expect(Math.abs(got.variance / expected.variance - 1)).toBeLessThan(1e-6)
  })

  it('are those of the whole distribution, of its half and of a uniform one in the limits', () => {
    const whole = truncatedNormalMoments({ mean: 3, sd: 2, lower: -Infinity, upper: Infinity })
    expect(whole.mean).toBeCloseTo(3, 12)
    expect(whole.variance).toBeCloseTo(4, 10)
    const half = truncatedNormalMoments({ mean: 0, sd: 1, lower: 0, upper: Infinity })
    expect(half.mean).toBeCloseTo(Math.sqrt(2 / Math.PI), 12)
    expect(half.variance).toBeCloseTo(1 - 2 / Math.PI, 12)
    const flat = truncatedNormalMoments({ mean: 0, sd: 1e6, lower: -0.4, upper: 0.4 })
    expect(flat.mean).toBeCloseTo(0, 12)
    expect(flat.variance).toBeCloseTo(0.64 / 12, 12)
  })

  it('stay inside the cut with a variance below that of the uncut and of the widest possible', () => {
    const finite = (min: number, max: number) => fc.double({ min, max, noNaN: true })
    fc.assert(
      fc.property(finite(-1e3, 1e3), finite(1e-3, 1e3), finite(-10, 10), finite(1e-3, 20), (mean, sd, lower, width) => {
        const upper = lower + width
        const got = truncatedNormalMoments({ mean, sd, lower, upper })
        expect(got.mean).toBeGreaterThanOrEqual(lower)
        expect(got.mean).toBeLessThanOrEqual(upper)
        expect(got.variance).toBeGreaterThan(0)
        expect(got.variance).toBeLessThanOrEqual(Math.min(sd * sd, (width * width) / 12) * (1 + 1e-9))
      }),
      runs,
    )
  })

  it('refuses cuts and spreads that are none', () => {
    const normal = { mean: 0, sd: 1, lower: -1, upper: 1 }
    expect(() => truncatedNormalMoments({ ...normal, upper: -1 })).toThrow(/upper must be above lower -1, got -1/)
    expect(() => truncatedNormalMoments({ ...normal, sd: 0 })).toThrow(/sd must be a finite number above 0, got 0/)
    expect(() => truncatedNormalMoments({ ...normal, mean: NaN })).toThrow(/mean must be a finite number, got NaN/)
    expect(() => truncatedNormalMoments({ ...normal, lower: NaN })).toThrow(/upper must be above lower NaN/)
  })
})
