import type { Work } from '../model/messages.js'
import { DAY_MS, MINUTE_MS } from '../model/time.js'
import type { WorkStanding } from '../recommend/contradictions.js'
import { theilSen } from '../statistics/theilSen.js'
import type { PointState, UnitFold } from './pointState.js'

/** Readings this far back tell whether a reference stood still when it was noted. */
const STEADY_MS = 5 * MINUTE_MS
const LEAST_READINGS = 3
/** A grab sample older than this is nothing to adjust to. */
const GRAB_MS = DAY_MS

/** What is known of a unit when one of its records is judged. */
export function workStanding(state: PointState, unit: UnitFold, i: number, work: Work): WorkStanding {
  const lastGrab = state.pairs.findLast(pair => pair.atMs <= work.atMs && pair.atMs > work.atMs - GRAB_MS)
  return {
    serial: unit.work.serial,
    standards: unit.work.standards,
    levelNtu: unit.levelNtu,
    lastGrab:
      lastGrab?.qualifier === null ? { ntu: lastGrab.grabNtu, atMs: lastGrab.atMs, sampleId: lastGrab.sampleId } : null,
    slopeNtuPerMin: slopeBefore(state, i, work.atMs),
  }
}

/** Robust slope of the readings marked calibrating in the last minutes before a record; slow signals need longer. */
function slopeBefore(state: PointState, i: number, atMs: number): number | null {
  const before = (state.analyzers[i]?.calibrating ?? []).filter(one => one.atMs <= atMs)
  const recent = before.filter(one => one.atMs > atMs - STEADY_MS)
  const readings = recent.length >= LEAST_READINGS ? recent : before.slice(-LEAST_READINGS)
  const [first] = readings
  if (readings.length < LEAST_READINGS || first === undefined || first.atMs < atMs - 4 * STEADY_MS) return null
  return theilSen(
    readings.map(one => (one.atMs - first.atMs) / MINUTE_MS),
    readings.map(one => one.ntu),
  ).slope
}
