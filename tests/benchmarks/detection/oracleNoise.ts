import { exp } from '../../../src/statistics/distributions.js'
import { truncatedNormalMoments } from '../../../src/statistics/truncatedNormal.js'
import { MISMATCH, SHARED_NTU, WATER, type FleetPoint } from './fleet.js'
import { STANDING } from './grid.js'

/** One value of a series: a pair, or a window of a difference. */
export interface Observed {
  /** Time of the pair, middle of the window; days from the start. */
  readonly day: number
  readonly of: 'pair' | 'window'
  readonly levelNtu: number
  readonly toleranceNtu: number
}

/** As the messages are made: spread of one reading in tolerances, its resolution, windows of six hours with 24. */
const READING = { ofTolerance: 0.03, resolutionNtu: 0.001 } as const
const WINDOW = { days: 0.25, readings: 24 } as const
/** Variance of a median of many normal values over that of their mean, about π/2. */
const MEDIAN_FACTOR = 1.5
/** Variance of a standing bias, tolerances squared. */
const STANDING_VARIANCE = truncatedNormalMoments({
  mean: 0,
  sd: STANDING.sd,
  lower: -STANDING.cut,
  upper: STANDING.cut,
}).variance
/** Variance of the laboratory's shared error in its declared uncertainties: half of one, cut at one. */
const SHARED = truncatedNormalMoments({ mean: 0, sd: 0.5, lower: -1, upper: 1 }).variance

/** Covariance of two values in tolerances, and the laboratory's part of it for two pairs. */
export type Covariance = (a: Observed, b: Observed, same: boolean) => number

/** What one unit adds of its own: standing bias, slow difference of the water, spread of readings. */
export const unitCovariance: Covariance = (a, b, same) => {
  const slow = MISMATCH.sd * MISMATCH.sd * slowCorrelation(a, b)
  return STANDING_VARIANCE + slow + (same ? readingVariance(a) : 0)
}

/** What the bottle adds to every unit alike. */
export function laboratoryCovariance(point: FleetPoint): Covariance {
  const [fixed, relative] = WATER[point.water].laboratory
  return (a, b, same) => {
    const shared = (SHARED * SHARED_NTU * SHARED_NTU) / (a.toleranceNtu * b.toleranceNtu)
    if (!same) return shared
    const random = fixed * fixed + relative * relative * a.levelNtu * a.levelNtu
    return shared + random / (point.s * point.s * a.toleranceNtu * a.toleranceNtu)
  }
}

function readingVariance({ of, toleranceNtu }: Observed): number {
  const step = READING.resolutionNtu / toleranceNtu
  const one = READING.ofTolerance * READING.ofTolerance + (step * step) / 12
  return of === 'pair' ? one : (MEDIAN_FACTOR * one) / WINDOW.readings
}

const WHOLE = WINDOW.days / MISMATCH.correlationDays
/** Of a mean over a window with an instant outside it, over that of its middle. */
const SPREAD = (exp(WHOLE / 2) - exp(-WHOLE / 2)) / WHOLE
const SAME_WINDOW = (2 * (WHOLE - 1 + exp(-WHOLE))) / (WHOLE * WHOLE)

/** Of an exponential memory, at instants or as means over windows that are the same or apart. */
function slowCorrelation(a: Observed, b: Observed): number {
  const apart = Math.abs(a.day - b.day) / MISMATCH.correlationDays
  const windows = (a.of === 'window' ? 1 : 0) + (b.of === 'window' ? 1 : 0)
  if (windows === 0) return exp(-apart)
  if (apart >= WHOLE / 2) return exp(-apart) * (windows === 1 ? SPREAD : SPREAD * SPREAD)
  return windows === 2 ? SAME_WINDOW : (2 - exp(apart - WHOLE / 2) - exp(-apart - WHOLE / 2)) / WHOLE
}

/** Lower triangle by rows. */
export type Factor = readonly Float64Array[]

/** Cholesky factor of a covariance. @throws RangeError if it is not positive definite */
export function factorise(observed: readonly Observed[], covariance: Covariance): Factor {
  const factor: Float64Array[] = []
  for (const [i, one] of observed.entries()) {
    const row = new Float64Array(i + 1)
    for (let j = 0; j <= i; j++) {
      const above = j === i ? row : factor[j]!
      let sum = covariance(one, observed[j]!, j === i)
      for (let k = 0; k < j; k++) sum -= row[k]! * above[k]!
      if (j === i && !(sum > 0)) throw new RangeError(`covariance must be positive definite, got ${sum} in row ${i}`)
      row[j] = j === i ? Math.sqrt(sum) : sum / above[j]!
    }
    factor.push(row)
  }
  return factor
}

/** Solves factor · x = values, which are zero before `first`. */
export function whiten(factor: Factor, values: Float64Array, first = 0): Float64Array {
  const white = new Float64Array(values.length)
  for (let i = first; i < values.length; i++) {
    const row = factor[i]!
    let sum = values[i]!
    for (let k = first; k < i; k++) sum -= row[k]! * white[k]!
    white[i] = sum / row[i]!
  }
  return white
}
