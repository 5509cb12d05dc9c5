import { assertFinite } from './finite.js'
import { theilSenSlope, type SlopeWithInterval } from './theilSen.js'

/**
 * Sen's slope of a series: change from one value to the next, the median over all pairs, with its interval (Sen 1968,
 * J. Am. Stat. Assoc. 63:1379). The interval takes the values for independent; where they are not it is too short.
 * @param values finite, at least two, in order of time, evenly spaced  @param coverage above 0 and below 1
 * @returns unit of values per step
 * @throws RangeError if not finite, fewer than two, or coverage out of range
 */
export function senSlope(values: ArrayLike<number>, coverage = 0.95): SlopeWithInterval {
  assertFinite('values', values)
  if (values.length < 2) throw new RangeError('values must have at least two entries, got 1')
  return theilSenSlope(
    Array.from(values, (_, i) => i),
    values,
    coverage,
  )
}
