import { describe, expect, it } from 'vitest'
import { autoregression } from '../../src/simulate/autoregression.js'
import { randomStream } from '../../src/simulate/random.js'
import { normalCdf } from '../../src/statistics/distributions.js'

// Seeds are pinned: a bound of four standard errors holds for these for ever, and would break with a wrong generator.
const N = 100_000

describe('randomStream', () => {
  it('draws uniform numbers of mean 1/2 and variance 1/12', () => {
    const { uniform } = randomStream(1, 'uniform')
    const values = Array.from({ length: N }, uniform)
    expect(Math.min(...values.slice(0, 1_000))).toBeGreaterThanOrEqual(0)
    expect(Math.max(...values.slice(0, 1_000))).toBeLessThan(1)
    expect(Math.abs(mean(values) - 0.5)).toBeLessThan(4 * Math.sqrt(1 / 12 / N))
    expect(Math.abs(mean(values.map(v => (v - 0.5) * (v - 0.5))) - 1 / 12)).toBeLessThan(4 * Math.sqrt(1 / 180 / N))
  })

  it('draws normal numbers whose distribution stays within the Kolmogorov bound of the normal one', () => {
    const { normal } = randomStream(2, 'normal')
    const values = Array.from({ length: N }, normal).sort((a, b) => a - b)
    const distance = values.reduce((worst, z, i) => Math.max(worst, Math.abs(normalCdf(z) - (i + 0.5) / N)), 0)
    // 1.95/sqrt(n): level 0.1 % of the one-sample Kolmogorov test (Smirnov 1948, table of the limit distribution).
    expect(distance).toBeLessThan(1.95 / Math.sqrt(N))
  })

  it('gives the same numbers for the same seed and label, others for another seed or label', () => {
    const first = (seed: number, label: string): number[] =>
      Array.from({ length: 5 }, randomStream(seed, label).uniform)
    expect(first(7, 'a')).toEqual(first(7, 'a'))
    expect(first(7, 'a')).not.toEqual(first(8, 'a'))
    expect(first(7, 'a')).not.toEqual(first(7, 'b'))
  })

  it('gives streams that have nothing to do with each other', () => {
    const left = randomStream(3, 'noise:FE1-A').normal
    const right = randomStream(3, 'noise:FE2-A').normal
    const products = Array.from({ length: N }, () => left() * right())
    expect(Math.abs(mean(products))).toBeLessThan(4 / Math.sqrt(N))
  })

  it('keeps cut normals inside the cut', () => {
    const { cutNormal } = randomStream(4, 'cut')
    expect(Array.from({ length: 10_000 }, () => Math.abs(cutNormal(1, 0.5))).every(size => size <= 0.5)).toBe(true)
  })
})

describe('autoregression', () => {
  it('has the spread and the correlation time it was given', () => {
    const next = autoregression(randomStream(5, 'ar'), 2, 600, 60)
    const values = Array.from({ length: N }, next)
    expect(mean(values.map(v => v * v))).toBeCloseTo(4, 0)
    const lag10 = mean(values.slice(10).map((v, i) => v * values[i]!)) / mean(values.map(v => v * v))
    // One correlation time on, 1/e is left.
    expect(Math.abs(lag10 - 0.3679)).toBeLessThan(0.02)
  })
})

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}
