import { normalQuantile, tCdf } from './distributions.js'

/** Running moments of the values a chart has learnt from (Welford 1962, Technometrics 4:419). */
export interface SelfStarting {
  /** Values learnt. */
  readonly n: number
  readonly mean: number
  /** Σ(x − mean)². */
  readonly squares: number
}

// Least normal number: smaller probabilities have lost digits, and at 0 the quantile is endless.
const LEAST_PROBABILITY = 2.3e-308

export function newSelfStarting(): SelfStarting {
  return { n: 0, mean: 0, squares: 0 }
}

/**
 * Score of the next value against those learnt, Φ⁻¹(F(√(n/(n + 1))·(x − x̄)/s)) with F of Student's t with n − 1
 * degrees of freedom; in control the scores are independent standard normal values, whatever the mean and the sigma
 * (Hawkins 1987, The Statistician 36:299; Quesenberry 1991, Journal of Quality Technology 23:213).
 *
 * Meant for a unit's own baseline and for diagnostics, with learning that is bounded: stop calling
 * advanceSelfStarting once enough is known. A chart that goes on learning takes a slow ramp for the normal state, so
 * it is no chart for grab samples, where a slow ramp is what is looked for.
 * @param value finite  @returns within ±37.6; null while fewer than two values are learnt or all of them are equal
 * @throws RangeError if value is not finite
 */
export function selfStartingScore({ n, mean, squares }: SelfStarting, value: number): number | null {
  assertValue(value)
  // One value alone leaves no squares either.
  if (squares === 0) return null
  const t = (Math.sqrt(n / (n + 1)) * (value - mean)) / Math.sqrt(squares / (n - 1))
  // From the lower tail on both sides: near 1 a probability has no digits left.
  const tail = normalQuantile(Math.max(LEAST_PROBABILITY, tCdf(-Math.abs(t), n - 1)))
  return t > 0 ? -tail : tail
}

/** Learns a value. @param value finite  @throws RangeError if it is not */
export function advanceSelfStarting({ n, mean, squares }: SelfStarting, value: number): SelfStarting {
  assertValue(value)
  const deviation = value - mean
  const nextMean = mean + deviation / (n + 1)
  return { n: n + 1, mean: nextMean, squares: squares + deviation * (value - nextMean) }
}

function assertValue(value: number): void {
  if (!Number.isFinite(value)) throw new RangeError(`value must be a finite number, got ${value}`)
}
