import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalCdf, normalQuantile } from '../../src/statistics/distributions.js'
import {
  condenseMixture,
  type GaussianMixture,
  mixtureCdf,
  mixtureMean,
  mixtureQuantile,
} from '../../src/statistics/gaussianMixture.js'

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
        const margin = 1e-7
        expect(mixtureCdf(of, x + margin)).toBeGreaterThanOrEqual(p - 1e-12)
        expect(mixtureCdf(of, x - margin)).toBeLessThan(p + 1e-12)
      }),
      runs,
    )
  })

  it('has quantiles that never fall as the probability grows', () => {
    fc.assert(
      fc.property(mixture, probability, probability, (of, p, q) => {
        const [less, more] = [mixtureQuantile(of, Math.min(p, q)), mixtureQuantile(of, Math.max(p, q))]
        // Each is found to 1e-9 of the span between the components' own quantiles, here less than 30.
        expect(more).toBeGreaterThanOrEqual(less - 6e-8)
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

/** Crowds of components round a few, as the onsets of one change make them, and single ones far off. */
const crowds = fc
  .array(
    fc.record({
      mean: fc.double({ min: -5, max: 5, noNaN: true }),
      sd: fc.constantFrom(0, 0.03, 0.2, 1, 3),
      growsWithSd: fc.boolean(),
      around: fc.array(
        fc.record({
          weight: fc.oneof(fc.constant(0), fc.double({ min: 1e-4, max: 1, noNaN: true })),
          steps: fc.double({ min: -0.5, max: 0.5, noNaN: true }),
          stretch: fc.double({ min: 0.85, max: 1.18, noNaN: true }),
        }),
        { minLength: 1, maxLength: 12 },
      ),
    }),
    { minLength: 1, maxLength: 3 },
  )
  .map(parts => {
    const all = parts.flatMap(({ mean, sd, growsWithSd, around }) =>
      around.map(({ weight, steps, stretch }) => ({
        weight,
        mean: mean * (growsWithSd ? stretch : 1) + steps * sd,
        sd: sd * stretch,
      })),
    )
    return { weights: all.map(p => p.weight), means: all.map(p => p.mean), sds: all.map(p => p.sd) }
  })
  .filter(({ weights }) => weights.some(weight => weight > 0.01))

const sum = (values: readonly number[]) => values.reduce((all, one) => all + one, 0)

function variance({ weights, means, sds }: GaussianMixture): number {
  const mean = mixtureMean({ weights, means, sds })
  return sum(weights.map((weight, i) => weight * (sds[i]! ** 2 + (means[i]! - mean) ** 2))) / sum(weights)
}

/** Weight on each point mass. */
function points({ weights, means, sds }: GaussianMixture): Map<number, number> {
  const found = new Map<number, number>()
  for (const [i, weight] of weights.entries())
    if (sds[i] === 0 && weight > 0) found.set(means[i]!, (found.get(means[i]!) ?? 0) + weight)
  return found
}

describe('a condensed mixture', () => {
  it('keeps weight, mean and variance, and is no longer', () => {
    fc.assert(
      fc.property(crowds, of => {
        const short = condenseMixture(of)
        expect(short.weights.length).toBeLessThanOrEqual(of.weights.length)
        expect(Math.abs(sum(short.weights) / sum(of.weights) - 1)).toBeLessThan(1e-12)
        const [spread, mean] = [variance(of), mixtureMean(of)]
        expect(Math.abs(mixtureMean(short) - mean)).toBeLessThanOrEqual(
          1e-12 * (Math.abs(mean) + Math.sqrt(spread)) + 1e-24,
        )
        expect(Math.abs(variance(short) - spread)).toBeLessThanOrEqual(1e-12 * spread + 1e-24)
      }),
      runs,
    )
  })

  it('has probabilities within 0.002 of what it was', () => {
    fc.assert(
      fc.property(crowds, of => {
        const short = condenseMixture(of)
        for (const [i, mean] of of.means.entries())
          for (let z = -3; z <= 3; z += 1) {
            const x = mean + z * of.sds[i]!
            expect(Math.abs(mixtureCdf(short, x) - mixtureCdf(of, x))).toBeLessThan(0.002)
          }
      }),
      runs,
    )
  })

  it('does not put together what is far apart next to its spread, however far from 0', () => {
    const of = { weights: [1, 1], means: [100, 104.5], sds: [1, 1.045] }
    expect(condenseMixture(of).means).toEqual(of.means)
    expect(mixtureCdf(condenseMixture(of), 102)).toBeCloseTo(mixtureCdf(of, 102), 12)
  })

  it('keeps point masses as they are', () => {
    fc.assert(
      fc.property(crowds, of => {
        const [before, after] = [points(of), points(condenseMixture(of))]
        expect([...after.keys()]).toEqual([...before.keys()])
        for (const [mean, weight] of before) expect(after.get(mean)).toBeCloseTo(weight, 12)
      }),
      runs,
    )
    const spike = condenseMixture({ weights: [0.5, 0.2, 0.3], means: [0, 1, 0], sds: [0, 0.3, 0] })
    expect(spike).toMatchObject({ weights: [0.8, 0.2], means: [0, 1] })
    expect(mixtureQuantile(spike, 0.5)).toBe(0)
  })

  it('leaves one component as it is, and those without weight out', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e3, max: 1e3, noNaN: true }),
        fc.double({ min: 1e-6, max: 1e3, noNaN: true }),
        fc.double({ min: 1e-6, max: 1, noNaN: true }),
        (mean, sd, weight) => {
          const one = condenseMixture({ weights: [weight, 0], means: [mean, 7], sds: [sd, 1] })
          expect(one).toMatchObject({ weights: [weight], means: [mean] })
          expect(Math.abs(one.sds[0]! / sd - 1)).toBeLessThan(1e-15)
        },
      ),
      runs,
    )
  })

  it('of many alike is a small part of them', () => {
    const index = Array.from({ length: 2_000 }, (_, i) => i)
    const of = {
      weights: index.map(() => 1),
      means: index.map(i => 1 + Math.sin(i)),
      sds: index.map(i => 0.5 + 0.1 * Math.cos(3 * i)),
    }
    expect(condenseMixture(of).weights.length).toBeLessThan(200)
  })
})
