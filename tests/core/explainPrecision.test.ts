import { describe, expect, it } from 'vitest'
import type { Difference } from '../../src/compare/difference.js'
import { precisionOf } from '../../src/core/explainPrecision.js'
import { newPointState, type PointState } from '../../src/core/pointState.js'
import { resolvePlant } from '../../src/model/plant.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { normalSource } from '../statistics/random.js'
import { smallRegister } from './support/register.js'

const NAMES = ['CFE-A', 'CFE-B', 'CFE-C']
const START_MS = Date.UTC(2026, 3, 1)
const TOLERANCE_NTU = 0.05

/** Sixty days of six-hour windows of three units whose errors have these standard deviations, in tolerances. */
function windows(sigmas: readonly number[], drift = 0, seed = 1): Difference[] {
  const normal = normalSource(seed)
  return Array.from({ length: 240 }, (_, k) => {
    const errors = sigmas.map((sigma, unit) => sigma * normal() + (unit === 0 ? drift * k : 0))
    const mean = errors.reduce((sum, error) => sum + error, 0) / errors.length
    return {
      atMs: START_MS + k * 6 * HOUR_MS,
      levelNtu: 0.1,
      toleranceNtu: TOLERANCE_NTU,
      deviationsNtu: errors.map(error => TOLERANCE_NTU * (error - mean)),
      lines: [],
    }
  })
}

function pointWith(differences: Difference[], names = NAMES): PointState {
  const register = smallRegister(['CFE'])
  const unit = register.points.CFE!.analyzers['CFE-A']!
  const point = { ...register.points.CFE!, analyzers: Object.fromEntries(names.map(name => [name, unit])) }
  const plant = resolvePlant({ ...register, points: { CFE: point } })
  return { ...newPointState(plant.points.get('CFE')!), differences }
}

function sigmasOf(differences: Difference[]): (number | null)[] | undefined {
  return precisionOf(NAMES, pointWith(differences))?.map(one => one.ofTolerance)
}

describe('precision of three units', () => {
  it('is the scatter that was put in', () => {
    const [a, b, c] = sigmasOf(windows([0.03, 0.05, 0.09]))!
    // 120 pairs: a standard deviation of about a tenth, more for the finest of the three.
    expect(a! / 0.03).toBeGreaterThan(0.5)
    expect(a! / 0.03).toBeLessThan(1.5)
    expect(b! / 0.05).toBeGreaterThan(0.7)
    expect(b! / 0.05).toBeLessThan(1.3)
    expect(c! / 0.09).toBeGreaterThan(0.8)
    expect(c! / 0.09).toBeLessThan(1.2)
    expect(precisionOf(NAMES, pointWith(windows([1, 1, 1])))?.map(one => one.analyzer)).toEqual(NAMES)
  })

  it('does not count a drift, nor a change at work', () => {
    const plain = sigmasOf(windows([0.03, 0.05, 0.09]))!
    sigmasOf(windows([0.03, 0.05, 0.09], 0.004))!.forEach((sigma, unit) => {
      expect(sigma! / plain[unit]!).toBeCloseTo(1, 1)
    })
    const changed = windows([0.05, 0.05, 0.05]).map((one, k) =>
      k < 101 ? one : { ...one, deviationsNtu: one.deviationsNtu.map((value, unit) => value! + (unit === 0 ? 1 : 0)) },
    )
    const point = pointWith(changed)
    expect(precisionOf(NAMES, point)![0]!.ofTolerance).toBeGreaterThan(1)
    point.fold.units[0]!.works.push({ atMs: changed[100]!.atMs + HOUR_MS, action: 'zero', id: null, serial: null })
    expect(precisionOf(NAMES, point)![0]!.ofTolerance).toBeLessThan(0.08)
  })

  it('names no number for a unit that is not told apart from one without scatter', () => {
    for (const seed of [1, 2, 3]) {
      const [a, b, c] = sigmasOf(windows([0, 0.2, 0.2], 0, seed))!
      expect(a).toBeNull()
      expect(b).toBeGreaterThan(0.15)
      expect(c).toBeGreaterThan(0.15)
    }
    expect(sigmasOf(windows([0, 0, 0]))).toEqual([null, null, null])
  })

  it('is not told for two units or four, from little, or across gaps', () => {
    const all = windows([0.1, 0.1, 0.1])
    expect(precisionOf(NAMES.slice(0, 2), pointWith(all, NAMES.slice(0, 2)))).toBeUndefined()
    expect(precisionOf([...NAMES, 'CFE-D'], pointWith(all, [...NAMES, 'CFE-D']))).toBeUndefined()
    expect(sigmasOf(all.slice(0, 39))).toBeUndefined()
    expect(sigmasOf(all.slice(0, 40))).toBeDefined()
    expect(sigmasOf(all.map((one, k) => ({ ...one, atMs: START_MS + k * DAY_MS })))).toBeUndefined()
    const absent = (one: Difference) => ({ ...one, deviationsNtu: one.deviationsNtu.with(2, null) })
    expect(sigmasOf(all.map(absent))).toBeUndefined()
  })
})
