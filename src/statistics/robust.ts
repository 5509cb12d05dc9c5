import { median as medianOfMany, quantile as quantileOfArray } from 'simple-statistics'
import { assertFinite } from './finite.js'

/** 1/Φ⁻¹(3/4): makes the median absolute deviation of a normal sample estimate its standard deviation. */
export const MAD_TO_SIGMA = 1.482602218505602

/**
 * Middle value; the mean of the two middle ones for an even count.
 * @param values finite, any order, not changed  @throws RangeError if empty or not finite
 */
export function median(values: ArrayLike<number>): number {
  assertFinite('values', values)
  return middleOf(values)
}

/**
 * median |x − median x|, without any factor.
 * @param values finite, any order, not changed  @returns unit of values; 0 if over half are equal
 * @throws RangeError if empty or not finite
 */
export function medianAbsoluteDeviation(values: ArrayLike<number>): number {
  assertFinite('values', values)
  const middle = middleOf(values)
  const deviations = new Float64Array(values.length)
  for (let n = 0; n < values.length; n++) deviations[n] = Math.abs(values[n]! - middle)
  return middleOf(deviations)
}

/** Up to so many values are sorted by insertion, which costs less than to select: the readings of a block are no more. */
const FEW = 24

function middleOf(values: ArrayLike<number>): number {
  if (values.length > FEW) return medianOfMany(Array.from(values))
  const sorted = new Float64Array(values.length)
  for (let n = 0; n < values.length; n++) {
    const value = values[n]!
    let at = n
    for (; at > 0 && sorted[at - 1]! > value; at--) sorted[at] = sorted[at - 1]!
    sorted[at] = value
  }
  const upper = sorted[values.length >> 1]!
  if (values.length % 2 === 1) return upper
  const lower = sorted[(values.length >> 1) - 1]!
  return lower + (upper - lower) / 2
}

/**
 * Spread that ignores wild values: 1.4826 · median |x − median x|, estimates σ of a normal sample.
 * Rousseeuw and Croux 1993, J. Am. Stat. Assoc. 88:1273, section 1.
 * @param values finite, any order, not changed  @returns unit of values; 0 if over half are equal
 * @throws RangeError if empty or not finite
 */
export function madSigma(values: ArrayLike<number>): number {
  return MAD_TO_SIGMA * medianAbsoluteDeviation(values)
}

/**
 * Quantile by linear interpolation between order statistics at 1 + (n − 1)p: definition 7 of Hyndman and Fan 1996,
 * The American Statistician 50:361.
 * @param values finite, any order, not changed  @param p 0 to 1
 * @throws RangeError if empty or not finite, or p outside 0 to 1
 */
export function quantile(values: ArrayLike<number>, p: number): number {
  assertFinite('values', values)
  if (!(p >= 0 && p <= 1)) throw new RangeError(`p must be a probability from 0 to 1, got ${p}`)
  return quantileOfArray(Array.from(values), p)
}
