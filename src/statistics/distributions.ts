import erfc from '@stdlib/math-base-special-erfc'
import stdlibExp from '@stdlib/math-base-special-exp'
import stdlibLn from '@stdlib/math-base-special-ln'
import stdlibChiSquareCdf from '@stdlib/stats-base-dists-chisquare-cdf'
import stdlibChiSquareQuantile from '@stdlib/stats-base-dists-chisquare-quantile'
import stdlibFCdf from '@stdlib/stats-base-dists-f-cdf'
import stdlibFQuantile from '@stdlib/stats-base-dists-f-quantile'
import stdlibNormalCdf from '@stdlib/stats-base-dists-normal-cdf'
import stdlibNormalQuantile from '@stdlib/stats-base-dists-normal-quantile'
import stdlibTCdf from '@stdlib/stats-base-dists-t-cdf'
import stdlibTQuantile from '@stdlib/stats-base-dists-t-quantile'

// Everything here is plain JavaScript arithmetic. The engine's own Math.exp and Math.log may differ in the last digit
// between Node versions, and a replay must give the same bytes everywhere.

const SQRT_2 = Math.sqrt(2)
const INVERSE_SQRT_2_PI = 0.3989422804014327

/** e to the power x, the same on every engine. */
export function exp(x: number): number {
  return stdlibExp(x)
}

/** Natural logarithm, the same on every engine. @returns −Infinity at 0, NaN below */
export function ln(x: number): number {
  return stdlibLn(x)
}

/** Density of the standard normal distribution. */
export function normalPdf(z: number): number {
  return INVERSE_SQRT_2_PI * stdlibExp(-0.5 * z * z)
}

/** P(Z ≤ z) of the standard normal distribution; keeps its relative precision far in the lower tail. */
export function normalCdf(z: number): number {
  return stdlibNormalCdf(z, 0, 1)
}

/** P(Z > z) of the standard normal distribution; keeps its relative precision far in the upper tail. */
export function normalUpperTail(z: number): number {
  return 0.5 * erfc(z / SQRT_2)
}

/**
 * z with P(Z ≤ z) = p. The library's quantile loses digits below p = 1e-8 and gives −Infinity below 1e-16, so its
 * value (or √(−2 ln p) where it has none) is only the start of Newton steps on ln P.
 * @param p probability, 0 to 1  @throws RangeError outside
 */
export function normalQuantile(p: number): number {
  assertProbability(p)
  if (p === 0) return -Infinity
  if (p === 1) return Infinity
  if (p > 0.5) return -normalQuantile(1 - p)
  const lnP = stdlibLn(p)
  let z = p > 1e-15 ? stdlibNormalQuantile(p, 0, 1) : -Math.sqrt(-2 * lnP)
  for (let i = 0; i < 8; i++) {
    const cdf = normalCdf(z)
    if (cdf === 0) break
    const step = ((stdlibLn(cdf) - lnP) * cdf) / normalPdf(z)
    z -= step
    if (Math.abs(step) <= 1e-15 * Math.abs(z)) break
  }
  return z
}

/** P(T ≤ x) of Student's t distribution. @param df degrees of freedom, above 0 */
export function tCdf(x: number, df: number): number {
  assertDegreesOfFreedom('df', df)
  return stdlibTCdf(x, df)
}

/** x with P(T ≤ x) = p of Student's t distribution. @throws RangeError for p outside 0 to 1 or df not above 0 */
export function tQuantile(p: number, df: number): number {
  assertProbability(p)
  assertDegreesOfFreedom('df', df)
  return stdlibTQuantile(p, df)
}

/** P(X ≤ x) of the chi-square distribution. @param df degrees of freedom, above 0 */
export function chiSquareCdf(x: number, df: number): number {
  assertDegreesOfFreedom('df', df)
  return stdlibChiSquareCdf(x, df)
}

/** x with P(X ≤ x) = p of the chi-square distribution. @throws RangeError for p outside 0 to 1 or df not above 0 */
export function chiSquareQuantile(p: number, df: number): number {
  assertProbability(p)
  assertDegreesOfFreedom('df', df)
  return stdlibChiSquareQuantile(p, df)
}

/** P(X ≤ x) of the F distribution with numerator and denominator degrees of freedom, both above 0. */
export function fCdf(x: number, df1: number, df2: number): number {
  assertDegreesOfFreedom('df1', df1)
  assertDegreesOfFreedom('df2', df2)
  return stdlibFCdf(x, df1, df2)
}

/** x with P(X ≤ x) = p of the F distribution. @throws RangeError for p outside 0 to 1 or a df not above 0 */
export function fQuantile(p: number, df1: number, df2: number): number {
  assertProbability(p)
  assertDegreesOfFreedom('df1', df1)
  assertDegreesOfFreedom('df2', df2)
  return stdlibFQuantile(p, df1, df2)
}

function assertProbability(p: number): void {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`p must be a probability from 0 to 1, got ${p}`)
}

function assertDegreesOfFreedom(name: string, df: number): void {
  if (!(df > 0)) throw new RangeError(`${name} must be above 0, got ${df}`)
}
