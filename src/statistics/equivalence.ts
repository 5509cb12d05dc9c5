import { sampleStandardDeviation, sampleVariance, mean as meanOf } from 'simple-statistics'
import { normalCdf, normalQuantile, tCdf, tQuantile } from './distributions.js'
import { assertFinite, assertPairs } from './finite.js'

/** What a difference may be and still count as none. */
export interface EquivalenceMargin {
  /** Least difference allowed, unit of the values. */
  readonly low: number
  /** Greatest difference allowed, above low. */
  readonly high: number
  /** Risk of calling equivalent what is not, above 0 and below 0.5; 0.05 if left out. */
  readonly alpha?: number
}

export interface EquivalenceTest {
  readonly difference: number
  /** (difference − low)/standard error, and P(T > that): small where the difference lies above low. */
  readonly tLow: number
  readonly pLow: number
  /** (difference − high)/standard error, and P(T < that): small where the difference lies below high. */
  readonly tHigh: number
  readonly pHigh: number
  /** The larger of the two. */
  readonly p: number
  readonly df: number
  /** Interval of coverage 1 − 2 · alpha: inside low…high exactly where equivalent. */
  readonly interval: { readonly lower: number; readonly upper: number }
  readonly equivalent: boolean
}

/**
 * Two one-sided t tests: is a mean difference not merely "not shown to be other than 0" but shown to lie within a margin
 * (Schuirmann 1987, J. Pharmacokinetics and Biopharmaceutics 15:657)? Equivalent where both are significant at alpha.
 * @param sample mean and standard deviation of n differences, sd 0 or more, n two or more
 * @throws RangeError naming what is out of range
 */
export function equivalenceOfMean(
  { mean, sd, n }: { readonly mean: number; readonly sd: number; readonly n: number },
  margin: EquivalenceMargin,
): EquivalenceTest {
  if (!Number.isFinite(mean)) throw new RangeError(`mean must be a finite number, got ${mean}`)
  if (!(sd >= 0 && sd < Infinity)) throw new RangeError(`sd must be a finite number, 0 or more, got ${sd}`)
  if (!(Number.isInteger(n) && n >= 2)) throw new RangeError(`n must be a whole number of at least 2, got ${n}`)
  return equivalence(mean, sd / Math.sqrt(n), n - 1, margin)
}

/**
 * The same for pairs: their differences x − y.
 * @param x finite, two or more  @param y finite, as many, in the same order  @throws RangeError naming what is wrong
 */
export function equivalenceOfPairs(
  x: readonly number[],
  y: readonly number[],
  margin: EquivalenceMargin,
): EquivalenceTest {
  assertPairs(x, y)
  assertTwo('x', x)
  const differences = x.map((value, i) => value - y[i]!)
  const sample = { mean: meanOf(differences), sd: sampleStandardDeviation(differences), n: x.length }
  return equivalenceOfMean(sample, margin)
}

/**
 * The same for two samples that are not paired, mean x − mean y, each with a variance of its own (Welch 1947, Biometrika
 * 34:28, for the degrees of freedom).
 * @param x finite, two or more  @param y finite, two or more  @throws RangeError naming what is wrong
 */
export function equivalenceOfMeans(
  x: readonly number[],
  y: readonly number[],
  margin: EquivalenceMargin,
): EquivalenceTest {
  assertFinite('x', x)
  assertFinite('y', y)
  assertTwo('x', x)
  assertTwo('y', y)
  const partX = sampleVariance([...x]) / x.length
  const partY = sampleVariance([...y]) / y.length
  const variance = partX + partY
  // Two constant samples have no such number; that of the pooled test serves, for the test is then sure whatever it is.
  const df =
    variance > 0
      ? (variance * variance) / ((partX * partX) / (x.length - 1) + (partY * partY) / (y.length - 1))
      : x.length + y.length - 2
  return equivalence(meanOf([...x]) - meanOf([...y]), Math.sqrt(variance), df, margin)
}

/**
 * The same for a difference whose standard error is known from elsewhere; with infinitely many degrees of freedom the
 * test is that of the normal law.
 * @param estimate standard error 0 or more, df above 0, Infinity for a known error
 * @throws RangeError naming what is out of range
 */
export function equivalenceOfEstimate(
  {
    difference,
    standardError,
    df,
  }: { readonly difference: number; readonly standardError: number; readonly df: number },
  margin: EquivalenceMargin,
): EquivalenceTest {
  if (!Number.isFinite(difference)) throw new RangeError(`difference must be a finite number, got ${difference}`)
  if (!(standardError >= 0 && standardError < Infinity))
    throw new RangeError(`standardError must be a finite number, 0 or more, got ${standardError}`)
  return equivalence(difference, standardError, df, margin)
}

function equivalence(
  difference: number,
  standardError: number,
  df: number,
  { low, high, alpha = 0.05 }: EquivalenceMargin,
): EquivalenceTest {
  if (!Number.isFinite(low)) throw new RangeError(`low must be a finite number, got ${low}`)
  if (!(high > low && high < Infinity))
    throw new RangeError(`high must be a finite number above low ${low}, got ${high}`)
  if (!(alpha > 0 && alpha < 0.5)) throw new RangeError(`alpha must be above 0 and below 0.5, got ${alpha}`)
  const tLow = quotient(difference - low, standardError)
  const tHigh = quotient(difference - high, standardError)
  const isKnown = df === Infinity
  const cdf = (x: number): number => (isKnown ? normalCdf(x) : tCdf(x, df))
  const pLow = cdf(-tLow)
  const pHigh = cdf(tHigh)
  const p = Math.max(pLow, pHigh)
  const reach = (isKnown ? normalQuantile(1 - alpha) : tQuantile(1 - alpha, df)) * standardError
  const interval = { lower: difference - reach, upper: difference + reach }
  return { difference, tLow, pLow, tHigh, pHigh, p, df, interval, equivalent: p < alpha }
}

// Without any scatter the side is sure, and a difference on the very limit is on neither.
function quotient(distance: number, standardError: number): number {
  return distance === 0 ? 0 : distance / standardError
}

function assertTwo(name: string, values: readonly number[]): void {
  if (values.length < 2) throw new RangeError(`${name} must have at least two values, got ${values.length}`)
}
