import { assertFinite } from './finite.js'

/** 1/(√2 Φ⁻¹(5/8)): makes the order statistic of a normal sample estimate its standard deviation. */
export const QN_TO_SIGMA = 2.219144465985076

// Factors for n = 2 to 12, simulated by the authors of R's robustbase.
const SMALL_SAMPLE = [0.399356, 0.99365, 0.51321, 0.84401, 0.6122, 0.85877, 0.66993, 0.87344, 0.72014, 0.88906, 0.75743]

/**
 * The k-th smallest |x_i − x_j|, i < j, with k = h(h − 1)/2, h = ⌊n/2⌋ + 1: Qn without any factor (Rousseeuw and Croux
 * 1993, J. Am. Stat. Assoc. 88:1273, section 3). Cost grows with n².
 * @param values finite, at least two, any order  @returns unit of values; 0 if over half are equal
 * @throws RangeError if not finite or fewer than two
 */
export function qnOrderStatistic(values: ArrayLike<number>): number {
  assertFinite('values', values)
  const n = values.length
  if (n < 2) throw new RangeError(`values must have at least two entries, got ${n}`)
  const distances = new Float64Array((n * (n - 1)) / 2)
  let at = 0
  for (let i = 1; i < n; i++) {
    for (let j = 0; j < i; j++) distances[at++] = Math.abs(values[i]! - values[j]!)
  }
  const h = Math.floor(n / 2) + 1
  return distances.sort()[(h * (h - 1)) / 2 - 1]!
}

/**
 * Spread that ignores wild values and needs no centre, so that it suits skewed samples; as good as the standard
 * deviation to 82 % on normal ones, where MAD sigma has 37 %. Estimates σ of a normal sample of any size: the factors
 * for small samples are those of R's robustbase 0.95 (Croux and Rousseeuw 1992 printed the first of them).
 * @param values finite, at least two, any order  @returns unit of values; 0 if over half are equal
 * @throws RangeError if not finite or fewer than two
 */
export function qn(values: ArrayLike<number>): number {
  const raw = qnOrderStatistic(values)
  return QN_TO_SIGMA * smallSampleFactor(values.length) * raw
}

function smallSampleFactor(n: number): number {
  if (n <= 12) return SMALL_SAMPLE[n - 2]!
  const excess =
    n % 2 === 1 ? (1.60188 + (-2.1284 - 5.172 / n) / n) / n : (3.67561 + (1.9654 + (6.987 - 77 / n) / n) / n) / n
  return 1 / (1 + excess)
}
