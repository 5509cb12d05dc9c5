import { DAY_MS, formatInstant, MINUTE_MS } from '../model/time.js'
import { median } from '../statistics/robust.js'
import type { PlantState } from './plantState.js'

const AROUND = 5
/** A tick may not jump further: a wrong clock would otherwise work through years. */
export const LONGEST_JUMP_MS = 400 * DAY_MS

/** Remembers the time of a reading that was new; repeats and refused readings move nothing. */
export function noteReadingTime(state: PlantState, atMs: number): void {
  const { clock } = state
  clock.recentMs = [...clock.recentMs.slice(-(AROUND - 1)), atMs]
}

/**
 * Event-time ticks, for files without ticks and for demo and tests: plant time is the running maximum, in whole
 * minutes, of the median time of five readings, so that a reading from 2099 or 1970 moves nothing and a gap of weeks
 * is no future. A hole of years is crossed in several ticks.
 * @returns the tick that is due, to be recorded and stepped, or undefined
 */
export function dueTick(state: PlantState): { readonly kind: 'tick'; readonly time: string } | undefined {
  const { clock } = state
  if (clock.recentMs.length < AROUND) return undefined
  const reachedMs = Math.floor(median(clock.recentMs) / MINUTE_MS) * MINUTE_MS
  const minuteMs = state.plantMs > 0 ? Math.min(reachedMs, state.plantMs + LONGEST_JUMP_MS) : reachedMs
  if (minuteMs <= Math.max(clock.tickMs, state.plantMs)) return undefined
  clock.tickMs = minuteMs
  return { kind: 'tick', time: formatInstant(minuteMs) }
}
