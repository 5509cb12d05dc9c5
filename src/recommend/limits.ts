import type { StandardType } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'

/** Zero water itself reads about 0.01 to 0.03 NTU: a zero is not judged more finely (common practice, no source). */
const LEAST_ZERO_LIMIT_NTU = 0.02
const ZERO_SHARE = 0.5

/**
 * How far a reading in a reference may be from its value, NTU: the analyzer's as-left limit of the value, on zero water
 * or with the source off half the absolute part of its tolerance.
 * @param assignedNtu 0 or more
 */
export function asLeftLimitNtu(analyzer: Analyzer, type: StandardType, assignedNtu: number): number {
  if (type === 'zero_water' || type === 'source_off')
    return Math.max(LEAST_ZERO_LIMIT_NTU, ZERO_SHARE * analyzer.tolerance.absoluteNtu)
  return analyzer.asLeftLimit * assignedNtu
}
