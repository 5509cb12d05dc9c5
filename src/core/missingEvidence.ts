import { DAY_MS } from '../model/time.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'

/** Evidence older than this does not carry an assessment. */
const STALE_MS = 14 * DAY_MS
const LEAST_PAIRS = 3

/** What would have to come in for a firmer answer; empty where nothing is missing. */
export function missingEvidence(context: PointContext, state: PointState, i: number, endMs: number): string[] {
  const unit = state.fold.units[i]
  if (unit === undefined) return []
  if (unit.gate.maintenanceSinceMs !== null || unit.gate.inWorkSinceMs !== null)
    return ['maintenance is on: end it when the work is done']
  if (unit.lastUsableMs === null) return ['no usable reading has come yet']
  const sinceMs = Math.max(unit.adjustedMs, endMs - STALE_MS)
  if (unit.verifications.some(one => one.use === 'used' && one.atMs > sinceMs)) return []
  const pairs = pairsSince(state, i, sinceMs)
  if (pairs >= LEAST_PAIRS) return []
  if (context.laboratoryIntervals.some(one => one.untilMs === null))
    return ['grab samples do not count until the laboratory instrument has been checked']
  const newest = state.differences.findLast(one => one.deviationsNtu[i] != null)
  const redundant = newest !== undefined && newest.atMs > endMs - DAY_MS && hasOwnWater(context, i)
  const needed = LEAST_PAIRS - pairs
  if (redundant && pairs > 0) return []
  const { methodsDiffer } = state.fold
  if (methodsDiffer !== null && methodsDiffer.lastMs > sinceMs)
    return [
      `needs ${sayGrabs(needed)} in ${context.analyzers[i]?.method ?? 'NTU'}, a site correlation or a verification: those in ${methodsDiffer.method} show change only`,
    ]
  if (pairs === 0 && !redundant)
    return [`needs ${sayGrabs(needed)} or a verification: nothing independent has been compared with it lately`]
  return [`needs ${String(needed)} more ${needed === 1 ? 'grab' : 'grabs'} or a verification`]
}

/** Whether a second unit on a line of its own stands at the point; one on the same line shares what disturbs it. */
function hasOwnWater({ analyzers }: PointContext, i: number): boolean {
  const own = analyzers[i]?.sampleLine
  return analyzers.some(({ sampleLine }, other) => other !== i && (own === undefined || sampleLine !== own))
}

function sayGrabs(n: number): string {
  return `${String(n)} ${n === 1 ? 'grab sample' : 'grab samples'}`
}

/** Pairs that compare the level of a unit after an instant, up to as many as are needed. */
function pairsSince(state: PointState, i: number, sinceMs: number): number {
  let n = 0
  for (let k = state.pairs.length - 1; k >= 0 && n < LEAST_PAIRS; k--) {
    const pair = state.pairs[k]
    if (pair === undefined || pair.atMs <= sinceMs) break
    if (pair.use === 'used' && pair.units[i] != null && pair.byMethod?.isDeclared !== false) n += 1
  }
  return n
}

/** When something independent was compared with a unit last. */
export function lastEvidence(state: PointState, unit: UnitFold, i: number): number | null {
  const difference = state.differences.findLast(
    one => one.deviationsNtu[i] != null && one.lines.some(value => value !== null),
  )
  const found = unit.verifications.findLast(one => one.use === 'used')
  const newest = Math.max(unit.lastPairMs ?? 0, difference?.atMs ?? 0, found?.atMs ?? 0)
  return newest === 0 ? null : newest
}
