import { kept } from '../model/rounding.js'
import { HOUR_MS } from '../model/time.js'
import { type Tolerance, toleranceAt } from '../model/tolerance.js'
import { median } from '../statistics/robust.js'

/**
 * Whether the level jumps up and down from block to block, far beyond the analyzer's own habit: air in the cell, a film or
 * a weed that moves in the light path, a loose contact. A jump is how far a block stands off the middle of itself and its
 * two neighbours, so that water that rises or falls, however fast, makes none.
 */
export interface ErraticState {
  /** Usual jump, tolerances. */
  habit: number
  /** Jumps the habit was learnt from. */
  learnt: number
  /** Medians of the last two blocks that counted, NTU. */
  beforeNtu: number[]
  lastMs: number
  /** For each of the last blocks when it jumped, 0 where it did not. */
  jumpsMs: number[]
  /** While it is erratic: since when. */
  sinceMs: number | null
}

/** Blocks looked at, and how many of them must jump for a finding and may still jump at its end. */
const LOOKED_AT = 12
const BEGIN_JUMPS = 5
const END_JUMPS = 2
/** A jump counts from so many usual ones on, and from a tolerance on: less is of no use to anybody. */
const HABITS = 6
const LEAST_TOLERANCES = 1
/** Two days of quarter-hours before a habit is one, ten days of memory. */
const LEAST_LEARNT = 192
const MEMORY = 960
/** Over a longer gap neighbours are no neighbours. */
const LONGEST_GAP_MS = 6 * HOUR_MS
const FIRST_HABIT = 0.1

export function newErraticState(): ErraticState {
  return { habit: FIRST_HABIT, learnt: 0, beforeNtu: [], lastMs: 0, jumpsMs: [], sinceMs: null }
}

/** Takes the next block that counts, in order of time. */
export function advanceErratic(state: ErraticState, endMs: number, medianNtu: number, tolerance: Tolerance): void {
  if (endMs - state.lastMs > LONGEST_GAP_MS) Object.assign(state, { beforeNtu: [], jumpsMs: [], sinceMs: null })
  state.lastMs = endMs
  const [firstNtu, middleNtu] = state.beforeNtu
  state.beforeNtu = [...state.beforeNtu.slice(-1), kept(medianNtu)]
  if (firstNtu === undefined || middleNtu === undefined) return
  const levelNtu = median([firstNtu, middleNtu, medianNtu])
  const jump = Math.abs(middleNtu - levelNtu) / toleranceAt(tolerance, levelNtu)
  const isJump = jump > jumpThreshold(state)
  state.jumpsMs = [...state.jumpsMs.slice(-(LOOKED_AT - 1)), isJump ? endMs : 0]
  const jumps = state.jumpsMs.filter(atMs => atMs > 0)
  if (state.sinceMs !== null) {
    if (jumps.length <= END_JUMPS) state.sinceMs = null
    return
  }
  learn(state, jump)
  if (state.learnt >= LEAST_LEARNT && jumps.length >= BEGIN_JUMPS) state.sinceMs = jumps[0] ?? endMs
}

/** Size of a jump that counts, tolerances. */
export function jumpThreshold({ habit }: ErraticState): number {
  return Math.max(HABITS * habit, LEAST_TOLERANCES)
}

/** One wild jump moves the habit no more than three usual ones. */
function learn(state: ErraticState, jump: number): void {
  state.learnt = Math.min(MEMORY, state.learnt + 1)
  state.habit = kept(state.habit + (Math.min(jump, 3 * state.habit + 0.05) - state.habit) / state.learnt)
}
