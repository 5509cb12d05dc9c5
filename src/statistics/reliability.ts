import { exp, ln } from './distributions.js'
import { assertPositive } from './finite.js'
import type { WeibullLife } from './intervalCensored.js'

type Shaped = Pick<WeibullLife, 'scale' | 'shape'>

/**
 * Share still good after a time: R(t) = exp(−(t/scale)^shape).
 * @param time 0 or more, unit of the scale  @throws RangeError for a negative time, or scale or shape not above 0
 */
export function reliabilityAt({ scale, shape }: Shaped, time: number): number {
  assertPositive('scale', scale)
  assertPositive('shape', shape)
  if (!(time >= 0)) throw new RangeError(`time must be 0 or more, got ${time}`)
  return time === 0 ? 1 : exp(-exp(shape * ln(time / scale)))
}

/**
 * Longest interval that keeps a target reliability: scale · (−ln R)^(1/shape); for the exponential −ln R/rate (class S1
 * of NCSL RP-1, from memory).
 * @param target above 0 and below 1  @returns unit of the scale  @throws RangeError naming what is out of range
 */
export function intervalForReliability({ scale, shape }: Shaped, target: number): number {
  assertPositive('scale', scale)
  assertPositive('shape', shape)
  assertShare('target', target)
  return scale * exp(ln(-ln(target)) / shape)
}

/**
 * Greatest share of failures that agrees with none in n: 1 − (1 − confidence)^(1/n), the exact upper bound of Clopper and
 * Pearson 1934, Biometrika 26:404.
 * @param n looks, above 0  @param confidence above 0 and below 1  @throws RangeError naming what is out of range
 */
export function zeroFailureShareBound(n: number, confidence = 0.95): number {
  assertPositive('n', n)
  assertShare('confidence', confidence)
  return 1 - exp(ln(1 - confidence) / n)
}

/**
 * Greatest constant rate that agrees with no failure in a total time: −ln(1 − confidence)/time. Where each of n was
 * looked at after the same time T it is −ln(1 − share bound)/T.
 * @param totalTime sum of the times without failure, above 0  @param confidence above 0 and below 1
 * @returns per unit of time  @throws RangeError naming what is out of range
 */
export function zeroFailureRateBound(totalTime: number, confidence = 0.95): number {
  assertPositive('totalTime', totalTime)
  assertShare('confidence', confidence)
  return -ln(1 - confidence) / totalTime
}

function assertShare(name: string, value: number): void {
  if (!(value > 0 && value < 1)) throw new RangeError(`${name} must be above 0 and below 1, got ${value}`)
}
