import { ln } from '../statistics/distributions.js'
import { HOUR_MS } from '../model/time.js'

/**
 * A run of equal readings. Quiet, quantised water repeats itself too, so a run is stuck only where it is longer than
 * the analyzer's own habit makes credible: the chance of the run, from the share of repeats in earlier runs, below 1e-9.
 */
export interface StuckState {
  valueNtu: number
  sinceMs: number
  count: number
  /** Repeats and changes in runs that ended by themselves, with a prior of 2 and 4. */
  repeats: number
  changes: number
}

const INCREDIBLE = -20.72
const SHORTEST_MS = 2 * HOUR_MS
const LONGEST_MEMORY = 2_000

export function newStuckState(): StuckState {
  return { valueNtu: Number.MIN_SAFE_INTEGER, sinceMs: 0, count: 0, repeats: 2, changes: 4 }
}

/** Takes the next reading in order of time. @returns true while the run it belongs to is stuck */
export function advanceStuck(state: StuckState, atMs: number, valueNtu: number): boolean {
  if (valueNtu === state.valueNtu) {
    state.count += 1
    return isStuck(state, atMs)
  }
  if (state.count > 0 && !isStuck(state, atMs)) learn(state)
  state.valueNtu = valueNtu
  state.sinceMs = atMs
  state.count = 1
  return false
}

/** Share of readings that repeat the one before, in runs that ended by themselves. */
export function repeatShare({ repeats, changes }: StuckState): number {
  return repeats / (repeats + changes)
}

function isStuck(state: StuckState, atMs: number): boolean {
  const share = Math.min(0.999, repeatShare(state))
  return atMs - state.sinceMs >= SHORTEST_MS && (state.count - 1) * ln(share) < INCREDIBLE
}

function learn(state: StuckState): void {
  state.repeats += state.count - 1
  state.changes += 1
  if (state.repeats + state.changes > LONGEST_MEMORY) {
    state.repeats /= 2
    state.changes /= 2
  }
}
