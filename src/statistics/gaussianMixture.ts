import { exp, ln, normalCdf, normalQuantile } from './distributions.js'

/** Weighted normal components; three lists of equal length. */
export interface GaussianMixture {
  /** 0 or more, not all 0; need not add up to one. */
  readonly weights: readonly number[]
  readonly means: readonly number[]
  /** 0 or more; 0 puts the whole weight on the mean. */
  readonly sds: readonly number[]
}

const PRECISION = 1e-9
/** How far the secant is moved towards the middle of a bracket as wide as the first, as a share of it. */
const TRUNCATION = 0.2
/** Components are alike when their sds differ by less than a tenth and their means by less than an eighth of an sd. */
const ALIKE = { lnSd: 0.1, means: 8 } as const

/**
 * The same distribution in fewer components: those that are alike are put together, keeping mean and variance of all.
 * Probabilities move by up to 1.5e-3 of the weight put together, at a small part of the cost of each look.
 */
export function condenseMixture({ weights, means, sds }: GaussianMixture): GaussianMixture {
  const cells = new Map<string, { weight: number; sum: number; squares: number; mean: number }>()
  for (let i = 0; i < weights.length; i++) {
    const weight = weights[i]!
    if (weight === 0) continue
    const mean = means[i]!
    const sd = sds[i]!
    const size = sd > 0 ? Math.round(ln(sd) / ALIKE.lnSd) : 0
    const key = sd > 0 ? `${size} ${Math.floor((mean * ALIKE.means) / exp(size * ALIKE.lnSd))}` : `point ${mean}`
    const cell = cells.get(key)
    if (cell === undefined) cells.set(key, { weight, sum: 0, squares: weight * sd * sd, mean })
    else {
      const from = mean - cell.mean
      cell.weight += weight
      cell.sum += weight * from
      cell.squares += weight * (sd * sd + from * from)
    }
  }
  const kept = [...cells.values()]
  return {
    weights: kept.map(cell => cell.weight),
    means: kept.map(cell => cell.mean + cell.sum / cell.weight),
    sds: kept.map(({ weight, sum, squares }) =>
      Math.sqrt(Math.max(0, squares / weight - (sum / weight) * (sum / weight))),
    ),
  }
}

/** P(X ≤ x). @throws RangeError if the mixture is none */
export function mixtureCdf(mixture: GaussianMixture, x: number): number {
  return cdf(mixture, totalWeight(mixture), x)
}

/**
 * Smallest x with P(X ≤ x) ≥ p, to 1e-9 of the span between the components' own quantiles; exact on a point mass.
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
  const bracket = narrow(x => cdf(mixture, total, x) - p, low, high)
  return pointMassWithin(mixture, bracket.low, bracket.high) ?? bracket.high
}

/**
 * Narrows a bracket round the place where an increasing function, which may jump, reaches 0, to 1e-9 of its width: the
 * ITP method (Oliveira and Takahashi, ACM Trans. Math. Softw. 47, 2020, article 5). As few steps as the secant where
 * the function is smooth, and never more than one beyond bisection.
 */
function narrow(excessAt: (x: number) => number, from: number, to: number): { low: number; high: number } {
  let [low, high] = [from, to]
  const enough = PRECISION * (to - from)
  const truncation = TRUNCATION / (to - from)
  // The bracket after the next step may be twice as wide as with bisection, not more.
  let allowed = to - from
  let below = Math.min(0, excessAt(low))
  let above = Math.max(0, excessAt(high))
  while (high - low > enough) {
    const middle = low + (high - low) / 2
    if (middle <= low || middle >= high) break
    const secant = above > below ? (above * low - below * high) / (above - below) : middle
    const towards = Math.sign(middle - secant)
    // A little from the secant to the middle, so that both sides of the bracket move.
    const shift = truncation * (high - low) * (high - low)
    const truncated = shift <= Math.abs(middle - secant) ? secant + towards * shift : middle
    const radius = allowed - (high - low) / 2
    const x = Math.abs(truncated - middle) <= radius ? truncated : middle - towards * radius
    const excess = excessAt(x)
    if (excess >= 0) [high, above] = [x, excess]
    else [low, below] = [x, excess]
    allowed /= 2
  }
  return { low, high }
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
