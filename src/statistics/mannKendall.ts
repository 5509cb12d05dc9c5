import { lagOneAutocorrelation } from './autocorrelation.js'
import { normalCdf, normalQuantile } from './distributions.js'
import { assertFinite } from './finite.js'
import { hasTies, kendallScore, kendallVariance } from './kendallScore.js'
import { concordanceDistribution, lowerTail } from './rankDistributions.js'
import { senSlope } from './senSlope.js'

/** Score, its variance where there is no trend, and what follows. */
export interface TrendTest {
  /** Rising minus falling pairs. */
  readonly score: number
  readonly variance: number
  /** (score − sgn score)/√variance; 0 where the score is 0. */
  readonly z: number
  /** Two-sided, by the normal distribution. */
  readonly p: number
}

// Beyond this the normal distribution is as good, and the exact one costs n⁴.
const EXACT_UP_TO = 40

/**
 * Mann–Kendall test for a trend, up or down, in independent values of any distribution (Mann 1945, Econometrica 13:245;
 * Kendall 1975), with ties and the continuity correction. Cost grows with n².
 * @param values finite, in order of time, any unit  @throws RangeError if empty or not finite
 */
export function mannKendall(values: ArrayLike<number>): TrendTest {
  assertFinite('values', values)
  return trendTest(kendallScore(values), kendallVariance(values.length, values))
}

/**
 * Two-sided p of the same score by its exact distribution: twice the smaller tail, at most 1 (Kendall 1938).
 * @param values finite, in order of time
 * @returns null where values are equal, or more than 40
 * @throws RangeError if empty or not finite
 */
export function mannKendallExactP(values: ArrayLike<number>): number | null {
  assertFinite('values', values)
  const n = values.length
  if (n > EXACT_UP_TO || hasTies(values)) return null
  const discordant = ((n * (n - 1)) / 2 - Math.abs(kendallScore(values))) / 2
  return Math.min(1, 2 * lowerTail(concordanceDistribution(n), discordant))
}

/**
 * Mann–Kendall test of values that follow one another: variance times 1 + 2(1 − 1/n) r₁, with r₁ the lag-one
 * autocorrelation about Sen's slope (Yue and Wang 2004, Water Resources Management 18:201, for one lag; with all lags
 * their sum is −1/2 by construction and the correction means nothing).
 * @param values finite, at least two, in order of time, evenly spaced
 * @returns null where the corrected variance is not above 0: not usable
 * @throws RangeError if not finite or fewer than two
 */
export function mannKendallYueWang(values: ArrayLike<number>): TrendTest | null {
  const plain = mannKendall(values)
  const correction = 1 + 2 * (1 - 1 / values.length) * lagOneAutocorrelation(withoutSlope(values))
  return correctedTest(plain, correction)
}

/**
 * Mann–Kendall test of values that follow one another: variance times
 * 1 + 2/(n(n−1)(n−2)) Σ (n−k)(n−k−1)(n−k−2) ρ_k, with ρ_k the autocorrelation at lag k of the ranks about Sen's slope,
 * of which those count that lie outside ±Φ⁻¹(0.975)/√n (Hamed and Rao 1998, Journal of Hydrology 204:182).
 * @param values finite, at least three, in order of time, evenly spaced  @param maxLag lags looked at; all if left out
 * @returns null where the corrected variance is not above 0: not usable
 * @throws RangeError if not finite, fewer than three, or maxLag no whole number from 1 to n − 1
 */
export function mannKendallHamedRao(values: ArrayLike<number>, maxLag = values.length - 1): TrendTest | null {
  const plain = mannKendall(values)
  const n = values.length
  if (n < 3) throw new RangeError(`values must have at least three entries, got ${n}`)
  if (!(Number.isInteger(maxLag) && maxLag >= 1 && maxLag < n))
    throw new RangeError(`maxLag must be a whole number from 1 to ${n - 1}, got ${maxLag}`)
  const ranks = midranks(withoutSlope(values))
  const significant = normalQuantile(0.975) / Math.sqrt(n)
  let sum = 0
  for (let lag = 1; lag <= maxLag; lag++) {
    const rho = autocorrelationOfRanks(ranks, lag)
    if (Math.abs(rho) > significant) sum += (n - lag) * (n - lag - 1) * (n - lag - 2) * rho
  }
  return correctedTest(plain, 1 + (2 * sum) / (n * (n - 1) * (n - 2)))
}

function trendTest(score: number, variance: number): TrendTest {
  const z = score === 0 ? 0 : (score - Math.sign(score)) / Math.sqrt(variance)
  return { score, variance, z, p: 2 * normalCdf(-Math.abs(z)) }
}

function correctedTest(plain: TrendTest, factor: number): TrendTest | null {
  const variance = plain.variance * factor
  return variance > 0 ? trendTest(plain.score, variance) : null
}

// A series on a line leaves rounding errors, which must not pass for a pattern.
function withoutSlope(values: ArrayLike<number>): number[] {
  const { slope } = senSlope(values)
  const rest = Array.from(values, (value, i) => value - (i + 1) * slope)
  const size = rest.reduce((most, value, i) => Math.max(most, Math.abs(value), Math.abs(values[i]!)), 0)
  const step = size * 1e-12
  return step > 0 ? rest.map(value => Math.round(value / step) * step) : rest
}

function midranks(values: readonly number[]): number[] {
  return values.map(value => {
    const below = values.filter(other => other < value).length
    const equal = values.filter(other => other === value).length
    return below + (equal + 1) / 2
  })
}

function autocorrelationOfRanks(ranks: readonly number[], lag: number): number {
  const center = (ranks.length + 1) / 2
  let products = 0
  let squares = 0
  ranks.forEach((rank, i) => {
    squares += (rank - center) * (rank - center)
    if (i >= lag) products += (rank - center) * (ranks[i - lag]! - center)
  })
  return squares === 0 ? 0 : products / squares
}
