import type { Tolerance } from '../model/tolerance.js'
import { toleranceAt } from '../model/tolerance.js'
import { HOUR_MS } from '../model/time.js'
import { BLOCK_MS } from './openBlock.js'
import { advanceHabit, type Habit, isClean, isElevated, isFallen, newHabit } from './serviceHabit.js'

/**
 * Whether a filter is at rest or restarting, told from the readings alone where the plant sends no process states. Two
 * shapes only, both fast: a level that climbs though no sample flows, and a peak of several times the usual level that
 * falls back within two hours. A step, a storm or a film loses two hours at the most, then counts again; a slow climb
 * is never held. Common practice, no source: a filter ripens within about an hour of its restart.
 */
export interface InferredService {
  readonly units: Habit[]
  hold: ServiceHold | null
  /** After a rise that did not fall back nothing is held until the level has been usual again. */
  armed: boolean
  /** What was held, newest last. */
  past: (ServiceHold & { readonly untilMs: number; readonly fellBack: boolean })[]
}

interface ServiceHold {
  readonly shape: 'rest' | 'restart'
  readonly sinceMs: number
  /** Since when the level has stood above its usual one: the stagnant climb before the peak, where there was one. */
  readonly aboveSinceMs: number
  readonly usualNtu: number
  peakNtu: number
  /** From here the two hours run in which it must fall back. */
  capFromMs: number
  /** Where it was first back at its usual level. */
  fellMs: number | null
}

/** What one unit shows in a block. */
export interface UnitLevel {
  /** Median where the block counts by the unit's own gate. */
  readonly countedNtu: number | null
  /** Median of what it shows while no sample flows. */
  readonly noFlowNtu: number | null
}

const FALLS_BACK_MS = 2 * HOUR_MS
/** As after a restart that the plant reports. */
const AFTER_MS = HOUR_MS
const KEPT_HOLDS = 8

export function newInferredService(units: number): InferredService {
  return { units: Array.from({ length: units }, newHabit), hold: null, armed: true, past: [] }
}

/**
 * Takes the block that ends at `endMs`. All units of the point that can be looked at must show the shape: what one
 * shows alone is its own.
 * @returns whether the block is left out
 */
export function advanceInferred(
  state: InferredService,
  levels: readonly UnitLevel[],
  tolerance: Tolerance,
  endMs: number,
): boolean {
  const seen = state.units.flatMap((habit, i) => {
    const { countedNtu = null, noFlowNtu = null } = levels[i] ?? {}
    const levelNtu = countedNtu ?? noFlowNtu
    return levelNtu === null
      ? []
      : [{ habit, levelNtu, flows: countedNtu !== null, toleranceNtu: toleranceAt(tolerance, habit.usualNtu) }]
  })
  const fallen = seen.length > 0 && seen.every(one => isFallen(one.habit, one.levelNtu, one.toleranceNtu))
  if (fallen) state.armed = true
  if (state.hold === null) state.hold = begin(state, seen, endMs)
  else advanceHold(state, state.hold, seen, fallen, endMs)
  const held = state.hold !== null
  for (const { habit, levelNtu, flows, toleranceNtu } of seen)
    advanceHabit(habit, levelNtu, toleranceNtu, flows && !held, endMs)
  return held
}

interface Seen {
  readonly habit: Habit
  readonly levelNtu: number
  readonly flows: boolean
  readonly toleranceNtu: number
}

function begin(state: InferredService, seen: readonly Seen[], endMs: number): ServiceHold | null {
  if (seen.length === 0 || !state.armed) return null
  const rests = seen.every(one => !one.flows && isElevated(one.habit, one.levelNtu, one.toleranceNtu, 'rest'))
  const restarts = seen.every(
    one => one.flows && isClean(one.habit) && isElevated(one.habit, one.levelNtu, one.toleranceNtu, 'restart'),
  )
  if (!rests && !restarts) return null
  const highest = seen.reduce((a, b) => (b.levelNtu > a.levelNtu ? b : a))
  return {
    shape: rests ? 'rest' : 'restart',
    sinceMs: endMs - BLOCK_MS,
    aboveSinceMs: Math.min(highest.habit.aboveSinceMs ?? endMs - BLOCK_MS, endMs - BLOCK_MS),
    usualNtu: highest.habit.usualNtu,
    peakNtu: highest.levelNtu,
    capFromMs: endMs - BLOCK_MS,
    fellMs: null,
  }
}

function advanceHold(
  state: InferredService,
  hold: ServiceHold,
  seen: readonly Seen[],
  fallen: boolean,
  endMs: number,
): void {
  for (const { levelNtu } of seen) hold.peakNtu = Math.max(hold.peakNtu, levelNtu)
  if (hold.shape === 'rest' && seen.some(one => !one.flows)) hold.capFromMs = endMs
  if (fallen) hold.fellMs ??= endMs
  else if (seen.length > 0) hold.fellMs = null
  if (hold.fellMs !== null && endMs - BLOCK_MS >= hold.fellMs + AFTER_MS) end(state, hold, true, endMs)
  else if (hold.fellMs === null && endMs - hold.capFromMs > FALLS_BACK_MS) end(state, hold, false, endMs)
}

function end(state: InferredService, hold: ServiceHold, fellBack: boolean, endMs: number): void {
  state.hold = null
  state.armed = fellBack
  state.past = [...state.past.slice(1 - KEPT_HOLDS), { ...hold, untilMs: endMs - BLOCK_MS, fellBack }]
}
