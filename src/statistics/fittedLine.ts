import { normalQuantile, tQuantile } from './distributions.js'

/** y = intercept + slope · x with standard deviations of the estimates. */
export interface FittedLine {
  readonly intercept: number
  readonly slope: number
  readonly interceptSd: number
  readonly slopeSd: number
  /** Covariance of intercept and slope; leaving it out of a predicted value is the classic mistake (GUM H.3). */
  readonly covariance: number
  /** Where the line is known best: its value there, with standard deviation centreSd, has no covariance with the slope. */
  readonly centreX: number
  readonly centreSd: number
  /** Degrees of freedom of the standard deviations; Infinity where they follow from known uncertainties. */
  readonly df: number
  readonly n: number
}

/** Everything that follows from the uncertainty at the centre and of the slope, without differences of large numbers. */
export function fittedLine(known: Omit<FittedLine, 'interceptSd' | 'covariance'>): FittedLine {
  const { centreX, centreSd, slopeSd } = known
  return {
    ...known,
    interceptSd: Math.sqrt(centreSd * centreSd + centreX * centreX * slopeSd * slopeSd),
    // No −0 where the centre lies at zero.
    covariance: 0 - centreX * slopeSd * slopeSd,
  }
}

/** The line's own value at x, in unit of y, and its standard deviation; a new value scatters about it besides. */
export function predictedValue(line: FittedLine, x: number): { readonly value: number; readonly sd: number } {
  const fromCentre = (x - line.centreX) * line.slopeSd
  return {
    value: line.intercept + line.slope * x,
    sd: Math.sqrt(line.centreSd * line.centreSd + fromCentre * fromCentre),
  }
}

/**
 * Two-sided interval of one estimate: Student's t, or the normal distribution where df is Infinity.
 * @param coverage above 0 and below 1
 * @returns lower and upper end, in unit of the estimate
 * @throws RangeError for a coverage out of range
 */
export function estimateInterval(
  { value, sd }: { readonly value: number; readonly sd: number },
  df: number,
  coverage = 0.95,
): readonly [number, number] {
  assertCoverage(coverage)
  const p = (1 + coverage) / 2
  const reach = sd * (df === Infinity ? normalQuantile(p) : tQuantile(p, df))
  return [value - reach, value + reach]
}

/** @throws RangeError naming the value unless it is above 0 and below 1 */
export function assertCoverage(coverage: number): void {
  if (!(coverage > 0 && coverage < 1)) throw new RangeError(`coverage must be above 0 and below 1, got ${coverage}`)
}
