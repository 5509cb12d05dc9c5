import { assertPositive } from './finite.js'
import { madSigma, median } from './robust.js'

export interface HampelOutliers {
  readonly median: number
  /** Spread used, in the unit of the values: MAD sigma, or the floor where that is smaller. */
  readonly sigma: number
  /** Positions of the values above median + threshold · sigma, ascending. */
  readonly high: readonly number[]
  /** Positions of the values below median − threshold · sigma, ascending. */
  readonly low: readonly number[]
}

/**
 * Hampel identifier: values strictly farther from the median than threshold · 1.4826 · MAD (Davies and Gather 1993,
 * J. Am. Stat. Assoc. 88:782). Quantised values often have MAD 0; the spread is then the floor, usually the
 * resolution step.
 * @param values finite, any order  @param threshold in sigmas, usually 3 to 3.5
 * @param floorSigma least spread, above 0, unit of values
 * @throws RangeError if values are empty or not finite, or threshold or floor not above 0
 */
export function hampelOutliers(values: ArrayLike<number>, threshold: number, floorSigma: number): HampelOutliers {
  assertPositive('threshold', threshold)
  assertPositive('floorSigma', floorSigma)
  const center = median(values)
  const sigma = Math.max(madSigma(values), floorSigma)
  const limit = threshold * sigma
  const high: number[] = []
  const low: number[] = []
  for (let i = 0; i < values.length; i++) {
    const deviation = values[i]! - center
    if (deviation > limit) high.push(i)
    else if (deviation < -limit) low.push(i)
  }
  return { median: center, sigma, high, low }
}
