import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalCdf, normalQuantile } from '../../src/statistics/distributions.js'
import { mixtureCdf, mixtureMean, mixtureQuantile } from '../../src/statistics/gaussianMixture.js'

const runs = { seed: 20_260_308, numRuns: 200 } // the seed only pins the generated cases

const mixture = fc
  .array(
    fc.record({
      weight: fc.double({ min: 0.01, max: 1, noNaN: true }),
      mean: fc.double({ min: -5, max: 5, noNaN: true }),
      sd: fc.oneof(fc.constant(0), fc.double({ min: 0.01, max: 3, noNaN: true })),
    }),
    { minLength: 1, maxLength: 12 },
  )
  .map(parts => ({ weights: parts.map(p => p.weight), means: parts.map(p => p.mean), sds: parts.map(p => p.sd) }))
const probability = fc.double({ min: 0.001, max: 0.999, noNaN: true })

describe('Gaussian mixture', () => {
  it('is the normal distribution for one component', () => {
    const one = { weights: [0.2], means: [1], sds: [2] }
    expect(mixtureCdf(one, 2)).toBeCloseTo(normalCdf(0.5), 14)
    expect(mixtureQuantile(one, 0.975)).toBeCloseTo(1 + 2 * normalQuantile(0.975), 12)
    expect(mixtureMean(one)).toBe(1)
  })

  it('has quantiles where the probability is first reached', () => {
    fc.assert(
      fc.property(mixture, probability, (of, p) => {
        const x = mixtureQuantile(of, p)
        const margin = 1e-6
        expect(mixtureCdf(of, x + margin)).toBeGreaterThanOrEqual(p - 1e-12)
        expect(mixtureCdf(of, x - margin)).toBeLessThan(p + 1e-12)
      }),
      runs,
    )
  })

  it('moves and stretches with its components', () => {
    fc.assert(
      fc.property(mixture, probability, (of, p) => {
        const moved = { ...of, means: of.means.map(m => 3 + 2 * m), sds: of.sds.map(s => 2 * s) }
        expect(mixtureQuantile(moved, p)).toBeCloseTo(3 + 2 * mixtureQuantile(of, p), 6)
        expect(mixtureMean(moved)).toBeCloseTo(3 + 2 * mixtureMean(of), 9)
        expect(mixtureCdf(of, Math.max(...of.means) + 60)).toBeCloseTo(1, 12)
      }),
      runs,
    )
  })

  it('gives a point mass exactly', () => {
    const spike = { weights: [0.8, 0.2], means: [0, 1], sds: [0, 0.3] }
    expect(mixtureQuantile(spike, 0.025)).toBe(0)
    expect(mixtureQuantile(spike, 0.5)).toBe(0)
    expect(mixtureQuantile(spike, 0.975)).toBeGreaterThan(1)
    expect(mixtureCdf(spike, 0)).toBeCloseTo(0.8, 3)
    expect(mixtureCdf(spike, -0.001)).toBeLessThan(0.001)
    expect(mixtureQuantile({ weights: [1, 1], means: [2, 2], sds: [0, 0] }, 0.3)).toBe(2)
    expect(mixtureQuantile({ weights: [1, 1], means: [2, 5], sds: [0, 0] }, 0.5)).toBe(2)
    expect(mixtureQuantile({ weights: [1, 1], means: [2, 5], sds: [0, 0] }, 0.51)).toBe(5)
  })

  it('leaves components without weight out', () => {
    const of = { weights: [1, 0], means: [0, 1e6], sds: [1, 1] }
    expect(mixtureQuantile(of, 0.5)).toBeCloseTo(0, 12)
    expect(mixtureMean(of)).toBe(0)
  })

  it('refuses what is no mixture, naming it', () => {
    const of = { weights: [1], means: [0], sds: [1] }
    expect(() => mixtureQuantile(of, 1)).toThrow(/p must be above 0 and below 1, got 1/)
    expect(() => mixtureCdf({ ...of, weights: [] }, 0)).toThrow(/equal length, got 0, 1, 1/)
    expect(() => mixtureCdf({ weights: [], means: [], sds: [] }, 0)).toThrow(/weights must add up/)
    expect(() => mixtureMean({ ...of, weights: [-1] })).toThrow(/weights\[0\] must be 0 or more, got -1/)
    expect(() => mixtureMean({ ...of, sds: [NaN] })).toThrow(/sds\[0\] must be finite, 0 or more, got NaN/)
    expect(() => mixtureMean({ ...of, means: [Infinity] })).toThrow(/means\[0\] must be a finite number/)
  })
})
