import expm1 from '@stdlib/math-base-special-expm1'
import { exp, ln } from './distributions.js'

/** Value, gradient and curvature of a log-likelihood in shape and offset. */
export interface Likelihood {
  value: number
  byShape: number
  byOffset: number
  byShapeTwice: number
  byShapeAndOffset: number
  byOffsetTwice: number
}

/** A life with its times as logarithms about a common centre. */
export interface CenteredLife {
  /** −Infinity where it was over at the first look. */
  readonly lower: number
  /** Infinity where it lasts still. */
  readonly upper: number
  /** ln(upper/lower), exact however short the interval; 0 where the end was seen. */
  readonly width: number
  readonly weight: number
}

// e^−700 is about the least a double holds: more cannot show.
const MOST = 700

/**
 * Log-likelihood of Weibull lives with cumulative hazard H(t) = exp(shape · ln t + offset): ln(R(lower) − R(upper)) of an
 * interval, ln R(lower) of a life that lasts still, ln density (per ln t) of an end that was seen; R = e^−H. In these two
 * numbers it is concave (Burridge 1981, J. R. Statist. Soc. B 43:41), so there is one maximum, if any.
 */
export function weibullLikelihood(lives: readonly CenteredLife[], shape: number, offset: number): Likelihood {
  const sum: Likelihood = {
    value: 0,
    byShape: 0,
    byOffset: 0,
    byShapeTwice: 0,
    byShapeAndOffset: 0,
    byOffsetTwice: 0,
  }
  for (const life of lives) {
    const { lower, upper, width, weight } = life
    if (lower > -Infinity) addHazard(sum, exp(shape * lower + offset), lower, -weight)
    if (width === 0) addSeenEnd(sum, life, shape, offset)
    else if (upper < Infinity) addInterval(sum, life, shape, offset)
  }
  return sum
}

// H, whose derivative by offset is H again, and by shape H times ln t.
function addHazard(sum: Likelihood, hazard: number, lnTime: number, factor: number): void {
  sum.value += factor * hazard
  sum.byShape += factor * hazard * lnTime
  sum.byOffset += factor * hazard
  sum.byShapeTwice += factor * hazard * lnTime * lnTime
  sum.byShapeAndOffset += factor * hazard * lnTime
  sum.byOffsetTwice += factor * hazard
}

// ln h(t) beside the −H that every life has.
function addSeenEnd(sum: Likelihood, { lower, weight }: CenteredLife, shape: number, offset: number): void {
  sum.value += weight * (ln(shape) + shape * lower + offset)
  sum.byShape += weight * (1 / shape + lower)
  sum.byOffset += weight
  sum.byShapeTwice -= weight / (shape * shape)
}

// ln(1 − e^−d) with d = H(upper) − H(lower), beside −H(lower). With b = 1/(e^d − 1) its derivatives by d are b and
// −b(1 + b); those of d are written as multiples of d, so that a short interval tends to the density and loses no digits.
function addInterval(sum: Likelihood, life: CenteredLife, shape: number, offset: number): void {
  const { lower, upper, width, weight } = life
  let difference = exp(shape * upper + offset)
  let byShape = upper
  let byShapeTwice = upper * upper
  if (lower > -Infinity) {
    const growth = expm1(shape * width)
    difference *= -expm1(-shape * width)
    byShape += width / growth
    byShapeTwice += (width / growth) * (upper + lower)
  }
  difference = Math.min(difference, MOST)
  const slope = difference / expm1(difference)
  const bend = slope * (difference + slope)
  sum.value += weight * ln(-expm1(-difference))
  sum.byShape += weight * slope * byShape
  sum.byOffset += weight * slope
  sum.byShapeTwice += weight * (slope * byShapeTwice - bend * byShape * byShape)
  sum.byShapeAndOffset += weight * (slope - bend) * byShape
  sum.byOffsetTwice += weight * (slope - bend)
}
