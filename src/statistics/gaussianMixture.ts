import { normalCdf, normalQuantile } from './distributions.js'

/** Weighted normal components; three lists of equal length. */
export interface GaussianMixture {
  /** 0 or more, not all 0; need not add up to one. */
  readonly weights: readonly number[]
  readonly means: readonly number[]
  /** 0 or more; 0 puts the whole weight on the mean. */
  readonly sds: readonly number[]
}

const PRECISION = 1e-9

/** P(X ≤ x). @throws RangeError if the mixture is none */
export function mixtureCdf(mixture: GaussianMixture, x: number): number {
  return cdf(mixture, totalWeight(mixture), x)
}

/**
 * Smallest x with P(X ≤ x) ≥ p, by bisection to 1e-9 of the span between the components' own quantiles; exact on a
 * point mass.
 * @param p above 0 and below 1  @throws RangeError outside, or if the mixture is none
 */
export function mixtureQuantile(mixture: GaussianMixture, p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`p must be above 0 and below 1, got ${p}`)
  const total = totalWeight(mixture)
  const z = normalQuantile(p)
  // Below every component's quantile less than p lies to the left, above every one at least p.
  let low = Infinity
  let high = -Infinity
  for (const [i, weight] of mixture.weights.entries()) {
    if (weight === 0) continue
    const own = mixture.means[i]! + mixture.sds[i]! * z
    low = Math.min(low, own)
    high = Math.max(high, own)
  }
  const enough = PRECISION * (high - low)
  while (high - low > enough) {
    const middle = low + (high - low) / 2
    if (middle <= low || middle >= high) break
    if (cdf(mixture, total, middle) >= p) high = middle
    else low = middle
  }
  return pointMassWithin(mixture, low, high) ?? high
}

/** Mean of the mixture. @throws RangeError if the mixture is none */
export function mixtureMean(mixture: GaussianMixture): number {
  const total = totalWeight(mixture)
  let sum = 0
  for (const [i, weight] of mixture.weights.entries()) sum += weight * mixture.means[i]!
  return sum / total
}

function cdf({ weights, means, sds }: GaussianMixture, total: number, x: number): number {
  let sum = 0
  for (const [i, weight] of weights.entries()) {
    if (weight === 0) continue
    const sd = sds[i]!
    const deviation = x - means[i]!
    if (sd > 0) sum += weight * normalCdf(deviation / sd)
    else if (deviation >= 0) sum += weight
  }
  return Math.min(1, sum / total)
}

function pointMassWithin({ weights, means, sds }: GaussianMixture, low: number, high: number): number | undefined {
  return means.find((mean, i) => weights[i]! > 0 && sds[i] === 0 && mean >= low && mean <= high)
}

function totalWeight({ weights, means, sds }: GaussianMixture): number {
  if (means.length !== weights.length || sds.length !== weights.length)
    throw new RangeError(
      `weights, means and sds must be of equal length, got ${weights.length}, ${means.length}, ${sds.length}`,
    )
  let total = 0
  for (const [i, weight] of weights.entries()) {
    if (!(weight >= 0)) throw new RangeError(`weights[${i}] must be 0 or more, got ${weight}`)
    if (!Number.isFinite(means[i])) throw new RangeError(`means[${i}] must be a finite number, got ${means[i]!}`)
    if (!(sds[i]! >= 0 && sds[i]! < Infinity))
      throw new RangeError(`sds[${i}] must be finite, 0 or more, got ${sds[i]!}`)
    total += weight
  }
  if (!(total > 0 && total < Infinity))
    throw new RangeError(`weights must add up to a finite number above 0, got ${total}`)
  return total
}
