import { normalQuantile } from './distributions.js'
import { assertPairs } from './finite.js'
import { kendallVariance } from './kendallScore.js'
import { median } from './robust.js'

export interface TheilSenLine {
  readonly slope: number
  readonly intercept: number
}

export interface SlopeWithInterval {
  readonly slope: number
  /** Distribution-free interval of the slope; null where so few values bear none. */
  readonly interval: { readonly lower: number; readonly upper: number } | null
}

/**
 * Line that bears up to 29 % wild values: slope = median of the slopes of all pairs with different x, intercept =
 * median of y − slope · x (Sen 1968, J. Am. Stat. Assoc. 63:1379). Cost grows with n².
 * @param x finite  @param y finite, as many as x
 * @returns slope in unit of y per unit of x, intercept in unit of y
 * @throws RangeError if empty, not finite, of unequal length, or all x are equal
 */
export function theilSen(x: ArrayLike<number>, y: ArrayLike<number>): TheilSenLine {
  const slope = median(slopesOfPairs(x, y))
  return { slope, intercept: median(Array.from(x, (value, i) => y[i]! - slope * value)) }
}

/**
 * Slope of the same line with its interval: of the N sorted slopes those at ranks (N − C)/2 and (N + C)/2 + 1, rounded,
 * where C = Φ⁻¹((1 + coverage)/2) · √variance of Kendall's score (Sen 1968, section 6; the variance with ties of either
 * coordinate). It takes the errors of y for independent.
 * @param x finite  @param y finite, as many as x  @param coverage above 0 and below 1
 * @returns unit of y per unit of x
 * @throws RangeError as theilSen, or for a coverage out of range
 */
export function theilSenSlope(x: ArrayLike<number>, y: ArrayLike<number>, coverage = 0.95): SlopeWithInterval {
  if (!(coverage > 0 && coverage < 1)) throw new RangeError(`coverage must be above 0 and below 1, got ${coverage}`)
  const slopes = Float64Array.from(slopesOfPairs(x, y)).sort()
  // Ties in both coordinates can take off more than there is.
  const variance = Math.max(0, kendallVariance(x.length, x, y))
  const reach = normalQuantile((1 + coverage) / 2) * Math.sqrt(variance)
  const rank = Math.round((slopes.length - reach) / 2)
  const upperRank = Math.round((slopes.length + reach) / 2) + 1
  const interval =
    rank < 1 || upperRank > slopes.length ? null : { lower: slopes[rank - 1]!, upper: slopes[upperRank - 1]! }
  return { slope: median(slopes), interval }
}

function slopesOfPairs(x: ArrayLike<number>, y: ArrayLike<number>): number[] {
  assertPairs(x, y)
  const slopes: number[] = []
  for (let i = 0; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) {
      const run = x[j]! - x[i]!
      if (run !== 0) slopes.push((y[j]! - y[i]!) / run + 0) // no −0, which sorts before 0
    }
  }
  if (slopes.length === 0) throw new RangeError('x must hold at least two different values')
  return slopes
}
