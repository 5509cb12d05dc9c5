import type { PointResiduals } from '../diagnose/laboratory.js'
import { canonicalJson } from '../model/canonicalJson.js'
import { DAY_MS, HOUR_MS } from '../model/time.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { type Conclusion, concludePoint } from './conclude.js'
import type { PointContext } from './context.js'
import { observePoint } from './observe.js'
import { newPointFold, type PointFold, type PointState } from './pointState.js'
import type { Watch } from './watch.js'

/** Daily snapshots reach as far as the blocks; the last day has one each six hours, since most grabs come hours late. */
const SNAPSHOT_MS = 6 * HOUR_MS
const SNAPSHOT_DAYS = 11

/** Keeps a copy of the fold at the six-hour marks. */
export function takeSnapshot(state: PointState, endMs: number): void {
  if (endMs % SNAPSHOT_MS !== 0) return
  state.snapshots = state.snapshots.filter(
    one => one.endMs >= endMs - DAY_MS || (one.endMs % DAY_MS === 0 && one.endMs >= endMs - SNAPSHOT_DAYS * DAY_MS),
  )
  state.snapshots.push({ endMs, fold: canonicalJson(state.fold) })
}

/**
 * Applies late facts: goes back to the snapshot before `fromMs` and folds forward again to `untilMs`, by the same code
 * as ever. Nothing is published on the way; the end is compared with what was published.
 * A record that is younger than the reach is folded from its begin; a fact older than the oldest snapshot of a longer
 * one counts from there on.
 * @param startedMs end of the first block of the record
 * @returns the last that was concluded about the laboratory on the way
 */
export function rebuildPoint(
  context: PointContext,
  state: PointState,
  fromMs: number,
  untilMs: number,
  startedMs: number,
  othersAt: (endMs: number) => readonly PointResiduals[],
  watch?: Watch,
): Conclusion {
  let last: Conclusion = { laboratory: undefined }
  const before = state.snapshots.findLast(one => one.endMs < fromMs)
  const snapshot = before ?? (startedMs > untilMs - SNAPSHOT_DAYS * DAY_MS ? undefined : state.snapshots.at(0))
  const baseMs = snapshot?.endMs ?? startedMs - BLOCK_MS
  state.fold = snapshot === undefined ? newPointFold(context.point) : (JSON.parse(snapshot.fold) as PointFold)
  state.pairs = state.pairs.filter(pair => pair.dueMs <= baseMs)
  state.differences = state.differences.filter(difference => difference.atMs <= baseMs)
  state.days = state.days.filter(day => day.endMs <= baseMs)
  state.snapshots = state.snapshots.filter(one => one.endMs <= baseMs)
  for (const pair of state.pairs) if (pair.atMs === state.fold.suspectMs) pair.use = 'suspect'
  for (let endMs = baseMs + BLOCK_MS; endMs <= untilMs; endMs += BLOCK_MS) {
    observePoint(context, state, endMs)
    const conclusion = concludePoint(context, state, endMs, () => othersAt(endMs))
    if (conclusion.laboratory !== undefined) last = conclusion
    takeSnapshot(state, endMs)
    if (endMs >= fromMs) watch?.folded(context, state, endMs)
  }
  return last
}
