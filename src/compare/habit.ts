import { madSigma, median } from '../statistics/robust.js'

/** A value a day, in any unit. */
export interface DayValue {
  readonly atMs: number
  readonly value: number
}

/** How far the newest days are from what the first ones made a habit. */
export interface HabitShift {
  /** Newest minus habit. */
  readonly shift: number
  readonly habit: number
  /** Scatter of a day about its habit. */
  readonly sigma: number
  /** Begin of the days in a row, up to the newest, that are more than half the shift away. */
  readonly sinceMs: number
}

/** A habit is the first week at least and the first fortnight at most; the newest three days are held against it. */
const HABIT_DAYS = { least: 7, most: 14 } as const
const NEWEST_DAYS = 3

/** Days it takes until a habit and something to hold against it are there. */
export const LEAST_DAYS = HABIT_DAYS.least + NEWEST_DAYS

/**
 * Medians against medians, so that one strange day neither makes a habit nor breaks one.
 * @param days ascending, since the last work  @returns undefined while the habit is being learnt
 */
export function habitShift(days: readonly DayValue[]): HabitShift | undefined {
  if (days.length < LEAST_DAYS) return undefined
  const learnt = days.slice(0, Math.min(HABIT_DAYS.most, days.length - NEWEST_DAYS)).map(day => day.value)
  const habit = median(learnt)
  const shift = median(days.slice(-NEWEST_DAYS).map(day => day.value)) - habit
  let first = days.length - 1
  while (first > 0 && ((days[first - 1]?.value ?? habit) - habit) * shift > (shift * shift) / 2) first -= 1
  return { shift, habit, sigma: madSigma(learnt), sinceMs: days[first]?.atMs ?? 0 }
}
