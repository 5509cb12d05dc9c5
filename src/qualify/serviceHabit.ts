import { DAY_MS } from '../model/time.js'
import { BLOCK_MS } from './openBlock.js'

/** The level that is usual for a unit, and its newest levels: what a restart is measured against. */
export interface Habit {
  usualNtu: number
  /** Blocks it rests on, counted up to a day. */
  blocks: number
  /** Levels of the newest blocks, an hour of them. */
  recentNtu: number[]
  /** Since when it has stood a tolerance above the usual level. */
  aboveSinceMs: number | null
}

/** Of so many blocks (six hours) before anything is inferred. */
const LEAST_BLOCKS = 24
const MEMORY_BLOCKS = DAY_MS / BLOCK_MS
/** A block moves the usual level as if it were at most this far away, in tolerances: peaks do not make habits. */
const FARTHEST = 0.5
const RECENT = 4
/** A level above the usual one becomes usual after this: a rest or a storm does not last so long. */
const PASSING_MS = 7 * DAY_MS
/** Filtered water; above it a peak may as well be the river (common practice, no source). */
const CLEAN_NTU = 0.5

/** A restart stands at several times the usual level and clear of it, and came within the hour. */
const RESTART = { times: 3, tolerances: 3, riseTimes: 1.5, riseTolerances: 2 } as const
/** Without flow a climb is enough; a sample at rest otherwise sinks. */
const REST = { times: 1.5, tolerances: 1 } as const
/** Back at its usual level within this. */
const FALLEN = { times: 1.5, tolerances: 1 } as const

export function newHabit(): Habit {
  return { usualNtu: 0, blocks: 0, recentNtu: [], aboveSinceMs: null }
}

export function isClean(habit: Habit): boolean {
  return habit.usualNtu <= CLEAN_NTU
}

export function isElevated(habit: Habit, levelNtu: number, toleranceNtu: number, shape: 'rest' | 'restart'): boolean {
  const { times, tolerances } = shape === 'rest' ? REST : RESTART
  if (habit.blocks < LEAST_BLOCKS) return false
  if (levelNtu < times * habit.usualNtu || levelNtu < habit.usualNtu + tolerances * toleranceNtu) return false
  if (shape === 'rest') return true
  const before = Math.min(...habit.recentNtu)
  return levelNtu >= RESTART.riseTimes * before && levelNtu >= before + RESTART.riseTolerances * toleranceNtu
}

export function isFallen(habit: Habit, levelNtu: number, toleranceNtu: number): boolean {
  return levelNtu <= Math.max(FALLEN.times * habit.usualNtu, habit.usualNtu + FALLEN.tolerances * toleranceNtu)
}

/** @param learns whether the level is one of service, from which the usual one follows */
export function advanceHabit(
  habit: Habit,
  levelNtu: number,
  toleranceNtu: number,
  learns: boolean,
  endMs: number,
): void {
  habit.recentNtu = [...habit.recentNtu.slice(1 - RECENT), levelNtu]
  if (isFallen(habit, levelNtu, toleranceNtu)) habit.aboveSinceMs = null
  else if (habit.blocks >= LEAST_BLOCKS) habit.aboveSinceMs ??= endMs - BLOCK_MS
  const isPassing = habit.aboveSinceMs !== null && endMs - habit.aboveSinceMs < PASSING_MS
  if (!learns || isPassing) return
  const farNtu = habit.blocks < LEAST_BLOCKS ? Infinity : FARTHEST * toleranceNtu
  const step = Math.max(-farNtu, Math.min(farNtu, levelNtu - habit.usualNtu))
  habit.blocks = Math.min(MEMORY_BLOCKS, habit.blocks + 1)
  habit.usualNtu += step / habit.blocks
}
