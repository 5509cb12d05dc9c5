import { DIGITS, roundTo } from '../model/rounding.js'
import { type Tolerance, toleranceAt } from '../model/tolerance.js'
import { median } from '../statistics/robust.js'
import type { PointDay } from './day.js'
import { type HabitShift, habitShift, LEAST_DAYS } from './habit.js'
import { isFar, sayLearning, type SlowLine } from './slowLine.js'

/** The floor of one analyzer's days against its habit. */
export interface Floor {
  readonly days: readonly { readonly atMs: number; readonly value: number }[]
  /** NTU; undefined while the habit is learnt. */
  readonly shift: HabitShift | undefined
}

/**
 * The cleanest water of each day: where an analyzer stands beside nothing, its floor is what must not move. Water that is
 * clean each day comes back to the same floor; a film, a drifted zero or stray light lift it and nothing takes them off.
 * @param sinceMs last adjustment or cleaning: the habit begins anew
 */
export function floorOf(days: readonly PointDay[], unit: number, sinceMs: number): Floor {
  const own = days.flatMap(day => {
    const value = day.units[unit]?.floorNtu
    return value === undefined || day.endMs <= sinceMs ? [] : [{ atMs: day.endMs, value }]
  })
  return { days: own, shift: habitShift(own) }
}

/** Share by which a floor has moved; undefined where it stands at nothing. */
export function floorShare({ shift }: Floor): number | undefined {
  return shift === undefined || shift.habit <= 0 ? undefined : shift.shift / shift.habit
}

/** Points besides the own one that must have a floor before their moving together means anything. */
const LEAST_OTHERS = 2
/** Of the own share, which the others' must reach for the water to explain it. */
const EXPLAINS = 0.5

/** @param others shares by which the floors of other points moved */
export function cleanWaterFloor(floor: Floor, tolerance: Tolerance, others: readonly number[]): SlowLine {
  const { days, shift } = floor
  const line = { line: 'clean_water_floor', against: 'its own cleanest water' } as const
  if (shift === undefined)
    return { ...line, missing: sayLearning(days.length, LEAST_DAYS), shift: null, sigma: 0, points: [] }
  const toleranceNtu = toleranceAt(tolerance, shift.habit)
  const ofTolerance = shift.shift / toleranceNtu
  const sigma = shift.sigma / toleranceNtu
  return {
    ...line,
    missing: null,
    shift: {
      ntu: roundTo(shift.shift, DIGITS.ntu),
      ofTolerance: roundTo(ofTolerance, DIGITS.tolerances),
      sinceMs: shift.sinceMs,
      isFar: isFar({ shift: ofTolerance, sigma }),
      isCommon: movedTogether(floorShare(floor), others),
    },
    sigma: roundTo(sigma, DIGITS.tolerances),
    points: days.map(({ atMs, value }) => [atMs, roundTo((value - shift.habit) / toleranceNtu, DIGITS.tolerances)]),
  }
}

/** The median of the other points moved the same way, at least half as far. */
function movedTogether(own: number | undefined, others: readonly number[]): boolean {
  if (own === undefined || others.length < LEAST_OTHERS) return false
  const theirs = median(others)
  return theirs * own > 0 && Math.abs(theirs) >= EXPLAINS * Math.abs(own)
}
