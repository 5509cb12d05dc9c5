import { closeDay, takeBlock } from '../compare/day.js'
import type { ProcessState } from '../model/messages.js'
import { DAY_MS } from '../model/time.js'
import type { PointState } from './pointState.js'

/** Six weeks: a fortnight for the habit and a month to leave it. */
const KEPT_DAYS = 42

/**
 * Takes one block into the day of a point, and closes the day at midnight UTC.
 * @param row medians of the block by unit, null where it does not count
 */
export function observeDay(
  state: PointState,
  row: readonly (number | null)[],
  changes: readonly ProcessState[],
  inService: boolean,
  endMs: number,
): void {
  const { fold } = state
  for (const { flowM3h } of changes) if (flowM3h !== undefined) fold.day.flowM3h = flowM3h
  takeBlock(
    fold.day,
    endMs,
    row.map(ntu => ntu !== null),
    inService,
  )
  if (endMs % DAY_MS !== 0) return
  const day = closeDay(
    fold.day,
    endMs,
    state.analyzers.map(analyzer => analyzer.log),
  )
  state.days = [...state.days.slice(-(KEPT_DAYS - 1)), day]
  state.slowIsOld = true
}
