import type { Line } from '../model/vocabulary.js'
import type { HabitShift } from './habit.js'

/**
 * A line that watches a slow value of each day against its own habit. It takes no share of the false-alarm budget, since
 * it opens nothing: at most it changes a status to `watch`, with the size of the shift.
 */
export interface SlowLine {
  readonly line: Extract<Line, 'related' | 'clean_water_floor'>
  readonly against: string
  /** Why it says nothing. */
  readonly missing: string | null
  readonly shift: {
    /** Newest days minus habit. */
    readonly ntu: number
    readonly ofTolerance: number
    readonly sinceMs: number
    /** Beyond half the tolerance and beyond what its days scatter. */
    readonly isFar: boolean
    /** Other points moved alike: the water, not the analyzer. */
    readonly isCommon: boolean
  } | null
  /** Scatter of a day, tolerances. */
  readonly sigma: number
  /** Day, difference to the habit in tolerances. */
  readonly points: readonly (readonly [atMs: number, ofTolerance: number])[]
}

/** Shift that is worth a word: half the tolerance, and so many scatters of the days. */
const FAR = { tolerances: 0.5, sigmas: 4 } as const

export function isFar({ shift, sigma }: Pick<HabitShift, 'shift' | 'sigma'>): boolean {
  return Math.abs(shift) > Math.max(FAR.tolerances, FAR.sigmas * sigma)
}

/** Days left to learn, as a reason. */
export function sayLearning(days: number, least: number): string {
  return `its habit is being learnt: ${String(days)} of ${String(least)} days are in`
}
