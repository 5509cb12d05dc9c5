import { describe, expect, it } from 'vitest'
import { learnSigmaFromDifference, newSigmaLearner, sigmaFactor } from '../../src/detect/sigma.js'
import { normalSource } from '../statistics/random.js'

function fromResiduals(residuals: readonly number[]): number {
  const learner = newSigmaLearner()
  for (const residual of residuals) learnSigmaFromDifference(learner, residual)
  return sigmaFactor(learner)
}

function noise(n: number, size: number): number[] {
  const normal = normalSource(5)
  return Array.from({ length: n }, () => size * normal())
}

describe('realised over declared uncertainty', () => {
  it('is as declared before anything is seen', () => {
    expect(sigmaFactor(newSigmaLearner())).toBe(1)
    expect(fromResiduals([3])).toBe(1)
  })

  it.each([0.8, 1, 1.5, 2])('finds errors that are %d times as large, behind a prior worth 30 values', size => {
    const expected = Math.sqrt((30 + 200 * size * size) / 230)
    expect(fromResiduals(noise(200, size)) / expected).toBeGreaterThan(0.88)
    expect(fromResiduals(noise(200, size)) / expected).toBeLessThan(1.12)
  })

  it.each([0.05, 0.2])('is not inflated by a drift of %d sigma a value', slope => {
    const still = noise(150, 1)
    const drifting = still.map((residual, i) => residual + slope * i)
    expect(fromResiduals(drifting) / fromResiduals(still)).toBeGreaterThan(0.95)
    expect(fromResiduals(drifting) / fromResiduals(still)).toBeLessThan(1.05)
  })

  it('is not inflated by a step, which is one difference of many', () => {
    const still = noise(150, 1)
    const stepped = still.map((residual, i) => (i < 75 ? residual : residual + 3))
    expect(fromResiduals(stepped) / fromResiduals(still)).toBeLessThan(1.05)
  })

  it('never believes in less than 0.7 of what was declared', () => {
    expect(fromResiduals(Array<number>(500).fill(0))).toBe(0.7)
  })

  it('one wild difference weighs as a four-sigma one', () => {
    expect(fromResiduals([0, 1e9])).toBeCloseTo(Math.sqrt(46 / 31), 12)
  })

  it('forgets: after quiet months a bad time is no longer held against it', () => {
    const bad = noise(200, 2)
    expect(fromResiduals(bad)).toBeGreaterThan(1.7)
    expect(fromResiduals([...bad, ...noise(600, 1)])).toBeLessThan(1.3)
  })
})
