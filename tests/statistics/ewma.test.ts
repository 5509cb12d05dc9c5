import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { advanceEwma, ewmaLastingSd, ewmaSd, type Ewma } from '../../src/statistics/ewma.js'

const runs = { seed: 20_260_311, numRuns: 200 } // the seed only pins the generated cases
const series = fc.array(fc.double({ min: -1e3, max: 1e3, noNaN: true }), { maxLength: 50 })
const lambda = fc.double({ min: 0.01, max: 1, noNaN: true })

function ewmaOf(x: readonly number[], weight: number, target = 0): Ewma {
  return x.reduce<Ewma>((state, value) => advanceEwma(state, value, weight), { z: target, fading: 1 })
}

// From the definition: z = (1 − λ)^n·target + Σ λ(1 − λ)^(n−1−i)·x_i; its variance is the sum of the squared weights.
function weightedSum(x: readonly number[], weight: number, target: number): { z: number; sd: number } {
  const weights = x.map((_, i) => weight * (1 - weight) ** (x.length - 1 - i))
  const z = x.reduce((sum, value, i) => sum + (weights[i] ?? NaN) * value, target * (1 - weight) ** x.length)
  return { z, sd: Math.sqrt(weights.reduce((sum, w) => sum + w * w, 0)) }
}

describe('EWMA', () => {
  it('equals the weighted sum of all values, and its sd that of the weights', () => {
    fc.assert(
      fc.property(series, lambda, fc.double({ min: -50, max: 50, noNaN: true }), (x, weight, target) => {
        const state = ewmaOf(x, weight, target)
        const batch = weightedSum(x, weight, target)
        expect(Math.abs(state.z - batch.z)).toBeLessThan(1e-9)
        expect(Math.abs(ewmaSd(state, weight, 3) - 3 * batch.sd)).toBeLessThan(1e-9)
      }),
      runs,
    )
  })

  it('is equivariant under shift and scale', () => {
    fc.assert(
      fc.property(
        series,
        lambda,
        fc.integer({ min: -100, max: 100 }),
        fc.integer({ min: -64, max: 64 }),
        (x, w, a, b) => {
          const moved = ewmaOf(
            x.map(value => a + b * value),
            w,
            a + b * 5,
          )
          const plain = ewmaOf(x, w, 5)
          expect(Math.abs(moved.z - (a + b * plain.z))).toBeLessThan(1e-8)
          expect(moved.fading).toBe(plain.fading)
        },
      ),
      runs,
    )
  })

  it('stays between the least and the greatest of what it was given, its sd below the lasting one', () => {
    fc.assert(
      fc.property(series, lambda, (x, weight) => {
        const state = ewmaOf(x, weight)
        expect(state.z).toBeGreaterThanOrEqual(Math.min(0, ...x) - 1e-9)
        expect(state.z).toBeLessThanOrEqual(Math.max(0, ...x) + 1e-9)
        expect(ewmaSd(state, weight, 1)).toBeLessThanOrEqual(ewmaLastingSd(weight, 1))
      }),
      runs,
    )
  })

  it('starts at the target without a spread and widens from λσ', () => {
    const start = { z: 7, fading: 1 }
    expect(ewmaSd(start, 0.25, 2)).toBe(0)
    const one = advanceEwma(start, 9, 0.25)
    expect(one.z).toBe(7.5)
    expect(ewmaSd(one, 0.25, 2)).toBeCloseTo(0.5, 14)
    const two = advanceEwma(one, 9, 0.25)
    expect(two.z).toBe(7.875)
    expect(ewmaSd(two, 0.25, 2)).toBeCloseTo(0.625, 14) // by hand: 2·√(1/16 + 9/256)
  })

  it('is the last value itself with λ = 1, and a constant series stays where it is', () => {
    expect(ewmaOf([4, -3, 8], 1)).toEqual({ z: 8, fading: 0 })
    expect(ewmaLastingSd(1, 2)).toBe(2)
    expect(ewmaOf(Array<number>(40).fill(0.5), 0.25, 0.5).z).toBe(0.5)
  })

  it('takes values near the largest number without overflow', () => {
    expect(ewmaOf([1e308, -1e308, 1e308], 0.5)).toEqual({ z: 3.75e307, fading: 0.015625 })
  })

  it('goes on from a stored state as if nothing had happened', () => {
    const stored = JSON.parse(JSON.stringify(ewmaOf([1, 2, 3], 0.3))) as Ewma
    expect(advanceEwma(stored, 4, 0.3)).toEqual(ewmaOf([1, 2, 3, 4], 0.3))
  })

  it('refuses what would spoil the average for good, naming it', () => {
    const start = { z: 0, fading: 1 }
    expect(() => advanceEwma(start, NaN, 0.1)).toThrow(/value must be a finite number, got NaN/)
    expect(() => advanceEwma(start, 1, 0)).toThrow(/lambda must be above 0 and at most 1, got 0/)
    expect(() => advanceEwma(start, 1, 1.5)).toThrow(RangeError)
    expect(() => ewmaSd(start, 0.1, 0)).toThrow(/sigma must be a finite number above 0, got 0/)
  })
})
