import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { cleanWaterFloor, floorOf, floorShare } from '../../src/compare/cleanWaterFloor.js'
import type { PointDay } from '../../src/compare/day.js'
import { habitShift } from '../../src/compare/habit.js'
import { mixedLevel, relatedLine } from '../../src/compare/related.js'
import { DAY_MS } from '../../src/model/time.js'
import { START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

const TOLERANCE = { absoluteNtu: 0.05, relative: 0.1 }
const at = (day: number) => START_MS + day * DAY_MS

/** Days of one unit, from its floor; the median lies a fifth above. */
function days(floors: readonly number[], flowM3h: number | null = null): PointDay[] {
  return floors.map((floorNtu, i) => ({
    endMs: at(i + 1),
    flowM3h,
    units: [{ n: 96, floorNtu, medianNtu: 1.2 * floorNtu }],
  }))
}

const noisy = (n: number, sd: number, seed: number, mean = 0.05) => {
  const normal = normalSource(seed)
  return Array.from({ length: n }, () => mean + sd * normal())
}

describe('a habit of days', () => {
  it('is learnt from the first week to fortnight and held against the newest three', () => {
    const values = [...Array.from({ length: 14 }, () => 1), ...Array.from({ length: 6 }, () => 3)]
    const shift = habitShift(values.map((value, i) => ({ atMs: at(i), value })))
    expect(shift).toEqual({ shift: 2, habit: 1, sigma: 0, sinceMs: at(14) })
    expect(habitShift(values.slice(0, 9).map((value, i) => ({ atMs: at(i), value })))).toBeUndefined()
  })

  it('neither is made nor broken by one strange day', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 19 }), fc.double({ min: -50, max: 50, noNaN: true }), (strange, value) => {
        const values = Array.from({ length: 20 }, (_, i) => ({ atMs: at(i), value: i === strange ? value : 1 }))
        expect(habitShift(values)?.shift).toBe(0)
      }),
      { seed: 3, numRuns: 100 },
    )
  })

  it('does not mind a level added to all days', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1_000 }), fc.integer({ min: -20, max: 20 }), (seed, offset) => {
        const values = noisy(20, 1, seed).map((value, i) => ({ atMs: at(i), value }))
        const moved = values.map(one => ({ ...one, value: one.value + offset }))
        expect(habitShift(moved)!.shift).toBeCloseTo(habitShift(values)!.shift, 9)
        expect(habitShift(moved)!.sigma).toBeCloseTo(habitShift(values)!.sigma, 9)
      }),
      { seed: 5, numRuns: 50 },
    )
  })
})

describe('the clean-water floor', () => {
  const risen = days([...noisy(14, 0.002, 1), ...noisy(6, 0.002, 2, 0.1)])

  it('tells a rise with its size and its begin', () => {
    const { shift, missing } = cleanWaterFloor(floorOf(risen, 0, 0), TOLERANCE, [])
    expect(missing).toBeNull()
    expect(shift?.ntu).toBeCloseTo(0.05, 2)
    expect(shift?.ofTolerance).toBeCloseTo(1, 1)
    expect(shift).toMatchObject({ sinceMs: at(15), isFar: true, isCommon: false })
  })

  it('is silent where the other points moved alike, but not where only one did or they moved the other way', () => {
    const common = (others: readonly number[]) =>
      cleanWaterFloor(floorOf(risen, 0, 0), TOLERANCE, others).shift?.isCommon
    expect(floorShare(floorOf(risen, 0, 0))).toBeCloseTo(1, 1)
    expect(common([0.8, 0.6, 0.9])).toBe(true)
    expect(common([0.8])).toBe(false)
    expect(common([0, 0.1, 0.9])).toBe(false)
    expect(common([-0.8, -0.6, -0.9])).toBe(false)
  })

  it('begins anew after work, and says how far it has come', () => {
    const { missing, shift } = cleanWaterFloor(floorOf(risen, 0, at(14)), TOLERANCE, [])
    expect(shift).toBeNull()
    expect(missing).toMatch(/6 of 10 days/)
  })

  it('is not far in days that only scatter: in a thousand records at most one in a hundred', () => {
    const far = Array.from({ length: 1_000 }, (_, seed) =>
      cleanWaterFloor(floorOf(days(noisy(30, 0.012, seed + 10)), 0, 0), TOLERANCE, []),
    ).filter(line => line.shift?.isFar === true)
    expect(far.length).toBeLessThanOrEqual(10)
  })
})

describe('what flows together', () => {
  const upstream = (levels: readonly number[], flows: readonly (number | null)[]) =>
    levels.map((ntu, i) => ({ point: `FE${String(i + 1)}`, days: days([ntu / 1.2], flows[i] ?? null) }))

  it('is weighted by flow where all send one, else plain', () => {
    expect(mixedLevel(upstream([0.04, 0.1], [300, 100]), at(1))).toBeCloseTo((3 * 0.04 + 0.1) / 4, 9)
    expect(mixedLevel(upstream([0.04, 0.1], [300, null]), at(1))).toBeCloseTo(0.07, 9)
    expect(mixedLevel(upstream([0.04, 0.1], [null, null]), at(1))).toBeCloseTo(0.07, 9)
  })

  it('lies between its parts, and is theirs where they are alike', () => {
    const level = fc.double({ min: 0.01, max: 5, noNaN: true })
    const flow = fc.double({ min: 1, max: 1_000, noNaN: true })
    fc.assert(
      fc.property(fc.array(fc.tuple(level, flow), { minLength: 1, maxLength: 6 }), parts => {
        const levels = parts.map(([ntu]) => ntu)
        const mixed = mixedLevel(
          upstream(
            levels,
            parts.map(([, m3h]) => m3h),
          ),
          at(1),
        )!
        expect(mixed).toBeGreaterThanOrEqual(Math.min(...levels) * (1 - 1e-9))
        expect(mixed).toBeLessThanOrEqual(Math.max(...levels) * (1 + 1e-9))
      }),
      { seed: 9, numRuns: 100 },
    )
  })

  it('is not known where more than half of the points rest', () => {
    const one = upstream([0.04, 0.1, 0.1], [null, null, null])
    expect(mixedLevel([one[0]!, { point: 'FE2', days: [] }, { point: 'FE3', days: [] }], at(1))).toBeUndefined()
    expect(mixedLevel([one[0]!, one[1]!, { point: 'FE3', days: [] }], at(1))).toBeCloseTo(0.07, 9)
  })

  it('the combined effluent is held against it by its own habit, whatever the water does', () => {
    const water = Array.from({ length: 24 }, (_, day) => 0.06 + 0.02 * Math.sin(day))
    const filters = ['FE1', 'FE2'].map(point => ({ point, days: days(water) }))
    const combined = (errorNtu: (day: number) => number) =>
      days(water.map((ntu, day) => ntu + 0.01 + errorNtu(day) / 1.2))
    const sound = relatedLine(
      combined(() => 0),
      0,
      TOLERANCE,
      filters,
      0,
    )
    expect(sound.shift).toMatchObject({ isFar: false })
    const drifted = relatedLine(
      combined(day => (day < 16 ? 0 : 0.06)),
      0,
      TOLERANCE,
      filters,
      0,
    )
    expect(drifted.shift?.isFar).toBe(true)
    expect(drifted.shift?.ntu).toBeCloseTo(0.06, 2)
    expect(drifted.against).toBe('FE1, FE2')
  })
})
