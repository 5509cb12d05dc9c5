import { oneOfBothTimes, pairDueMs } from '../compare/grab.js'
import type { PairUnit } from '../compare/pair.js'
import type { Grab } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import type { Exclusion } from '../model/vocabulary.js'

/**
 * A unit's side of a grab pair. Where the time of sampling may be either of two instants both are tried, and the pair
 * is made only where they say the same.
 * @param sideAt the side for one time of sampling, with the newest block that may be looked at
 */
export function eitherTime(
  grab: Grab,
  endMs: number,
  analyzers: readonly Analyzer[],
  sideAt: (grab: Grab, endMs: number) => PairUnit | Exclusion,
): PairUnit | Exclusion {
  if (grab.sampledAlsoMs === undefined) return sideAt(grab, endMs)
  const first = sideAt(grab, pairDueMs(analyzers, grab.sampledMs))
  const second = sideAt({ ...grab, sampledMs: grab.sampledAlsoMs }, endMs)
  if (typeof first !== 'string' && typeof second !== 'string') return oneOfBothTimes(first, second) ?? 'time_unclear'
  return first === second ? first : 'time_unclear'
}
