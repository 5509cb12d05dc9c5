import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant, HOUR_MS, sayDuration, sayInstant } from '../model/time.js'
import type { FindingKind } from '../model/vocabulary.js'
import { blockAt } from '../qualify/blockLog.js'
import { SETTLE_BLOCKS } from '../qualify/gate.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { FINDING_WORDS, sayNtu } from '../recommend/summary.js'
import type { FindingDetail, FindingPlace } from './findingDetail.js'
import type { PointState, UnitFold } from './pointState.js'

/** What is said where a finding is over. */
export function endedDetail(finding: FindingKind, place: FindingPlace): FindingDetail {
  const { context, state, unit, sinceMs, endMs } = place
  const hours = roundTo((endMs - sinceMs) / HOUR_MS, 1)
  const after = `after ${sayDuration(endMs - sinceMs)}`
  const fold = unit === null ? undefined : state.fold.units[unit]
  if (finding === 'returned_unsettled' && fold !== undefined)
    return settledDetail(fold, state, unit ?? 0, sinceMs, endMs)
  if (finding === 'not_in_service_inferred') {
    const last = state.fold.inferred.past.at(-1)
    const what =
      state.fold.service.state !== null
        ? `a process state has come and decides from now on, ${after} of inferring`
        : last?.fellBack === true
          ? `back in service ${after}, inferred: the peak of ${sayNtu(last.peakNtu)} NTU has been down for an hour, so its readings count again`
          : `the rise to ${sayNtu(last?.peakNtu ?? 0)} NTU did not fall back within 2 h: no restart, so its readings count again as they are`
    return { values: { hours }, what }
  }
  if (finding === 'no_usable_unit') {
    const usable = context.point.analyzers.filter((_, i) => state.fold.units[i]?.against === null)
    const who = usable.length > 0 ? usable.join(', ') : 'none needed now'
    return { values: { hours }, what: `usable again (${who}) ${after} without a reading since ${sayInstant(sinceMs)}` }
  }
  if (finding === 'maintenance_forgotten') {
    const what = `maintenance has ended ${after} without being watched, since ${sayInstant(sinceMs)}; it counts again once it has settled`
    return { values: { hours }, what }
  }
  return {
    values: { hours },
    what: `over now, ${after} since ${sayInstant(sinceMs)}: ${FINDING_WORDS[finding] ?? finding}`,
  }
}

function settledDetail(unit: UnitFold, state: PointState, i: number, sinceMs: number, endMs: number): FindingDetail {
  const age = sayDuration(endMs - sinceMs)
  const hours = roundTo((endMs - sinceMs) / HOUR_MS, 1)
  if (unit.findings.did_not_settle !== undefined || unit.lastUsableMs !== endMs)
    return { values: { hours }, what: `not settled ${age} after it was put back on ${sayInstant(sinceMs)}` }
  const countedMs = endMs - BLOCK_MS
  const stillMs = endMs - SETTLE_BLOCKS * BLOCK_MS
  const levelNtu = blockAt(state.analyzers[i]!.log, endMs)?.medianNtu ?? 0
  return {
    values: {
      hours,
      stillSince: formatInstant(stillMs),
      countedFrom: formatInstant(countedMs),
      levelNtu: roundTo(levelNtu, DIGITS.ntu),
    },
    what: `stands still at ${sayNtu(levelNtu)} NTU since ${sayInstant(stillMs)} and is counted from ${sayInstant(countedMs)}; put back on ${sayInstant(sinceMs)}, it was not counted for ${age}`,
  }
}
