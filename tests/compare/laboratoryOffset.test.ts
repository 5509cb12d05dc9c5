import { describe, expect, it } from 'vitest'
import {
  learnOffset,
  newOffsetLearner,
  type OffsetLearner,
  restartOffset,
  sharedOffset,
} from '../../src/compare/laboratoryOffset.js'
import { plantOf, pointOf } from '../model/plantFixture.js'

const SHARED = 0.01
const U = 0.01
const TOLERANCE = 0.05
const PLAN = { ...pointOf('SW', plantOf()).grab, sharedStandardUncertaintyNtu: SHARED }

function learner(residuals: readonly number[] = [], plan = PLAN): OffsetLearner {
  const fresh = newOffsetLearner(plan)
  for (const residual of residuals) learnOffset(fresh, plan, residual, U, TOLERANCE)
  return fresh
}

/** Prior cut at ± shared times the likelihood of the mean of n residuals, summed on a fine grid. */
function byGrid(mean: number, n: number): { mean: number; variance: number } {
  const variance = (U * U) / n + (0.2 * TOLERANCE) ** 2
  let mass = 0
  let first = 0
  let second = 0
  for (let i = 0; i < 20_000; i++) {
    const b = -SHARED + ((i + 0.5) * 2 * SHARED) / 20_000
    const weight = Math.exp(-(b * b) / (2 * SHARED * SHARED) - ((b - mean) * (b - mean)) / (2 * variance))
    mass += weight
    first += weight * b
    second += weight * b * b
  }
  return { mean: first / mass, variance: second / mass - (first / mass) ** 2 }
}

describe("the laboratory's shared offset at a point", () => {
  it('knows nothing at first: a normal cut at one standard deviation has variance 0.2911', () => {
    // 1 − 2φ(1)/(2Φ(1) − 1) = 0.291125, textbook moment of the truncated normal.
    expect(sharedOffset([learner()]).ntu).toBeCloseTo(0, 12)
    expect(sharedOffset([learner()]).variance / (SHARED * SHARED)).toBeCloseTo(0.291125, 5)
  })

  it.each([
    [0.008, 1],
    [0.008, 10],
    [-0.02, 5],
    [0.06, 10],
  ])('is prior times likelihood, cut: residuals of %d, %d pairs', (residual, n) => {
    const known = sharedOffset([learner(Array<number>(n).fill(residual))])
    const expected = byGrid(residual, n)
    expect(known.ntu).toBeCloseTo(expected.mean, 7)
    expect(known.variance).toBeCloseTo(expected.variance, 9)
  })

  it('a unit wrong by more than a tolerance is never taken for the laboratory', () => {
    const known = sharedOffset([learner(Array<number>(10).fill(0.2))])
    expect(known.ntu).toBeLessThan(SHARED)
    expect(known.variance).toBeLessThan(0.2911 * SHARED * SHARED)
  })

  it('is learnt from ten pairs and then stands', () => {
    const ten = learner(Array<number>(10).fill(0.005))
    const more = learner([...Array<number>(10).fill(0.005), 0.5, 0.5])
    expect(more).toEqual(ten)
  })

  it('is held after work until ten new pairs are there', () => {
    const unit = learner(Array<number>(10).fill(0.008))
    const held = sharedOffset([unit])
    restartOffset(unit)
    expect(sharedOffset([unit])).toEqual(held)
    for (let i = 0; i < 9; i++) learnOffset(unit, PLAN, -0.008, U, TOLERANCE)
    expect(sharedOffset([unit])).toEqual(held)
    learnOffset(unit, PLAN, -0.008, U, TOLERANCE)
    expect(sharedOffset([unit]).ntu).toBeCloseTo(-held.ntu, 9)
  })

  it('work before any pair holds nothing back', () => {
    const unit = learner()
    restartOffset(unit)
    learnOffset(unit, PLAN, 0.008, U, TOLERANCE)
    expect(sharedOffset([unit])).toEqual(sharedOffset([learner([0.008])]))
  })

  it('is zero where the register says so', () => {
    const none = { ...PLAN, sharedStandardUncertaintyNtu: 0 }
    expect(sharedOffset([learner([0.01, 0.01], none)])).toEqual({ ntu: 0, variance: 0 })
  })
})

describe('offset of several units', () => {
  const held = (ntu: number, variance = 1e-5): OffsetLearner => ({ ...learner(), heldNtu: ntu, heldVariance: variance })
  it.each([
    ['nearest zero of three', [held(0.006), held(0.002, 4e-6), held(0.009)], 0.002, 4e-6],
    ['nearest zero below', [held(-0.006), held(-0.003, 4e-6)], -0.003, 4e-6],
    ['signs that differ share nothing', [held(0.006, 1e-5), held(-0.002, 2e-5)], 0, 2e-5],
    ['no unit', [], 0, 0],
  ] as const)('%s', (_, units, ntu, variance) => {
    expect(sharedOffset(units)).toEqual({ ntu, variance })
  })

  it('does not depend on the order of units of one sign', () => {
    const units = [held(0.006), held(0.002), held(0.004)]
    expect(sharedOffset([...units].reverse())).toEqual(sharedOffset(units))
  })
})
