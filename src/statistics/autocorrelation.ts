import { mean } from 'simple-statistics'
import { assertFinite } from './finite.js'

/**
 * Lag-one autocorrelation r = Σ (x_t − x̄)(x_{t+1} − x̄) / Σ (x_t − x̄)².
 *
 * In short series r is too low by about (1 + 4φ)/n, because the mean is taken from the same values (Marriott and Pope
 * 1954, Biometrika 41:390; Kendall 1954, Biometrika 41:403). With biasCorrected that is solved for φ:
 * (n·r + 1)/(n − 4), held within −1 to 1; it needs five values.
 * @param values finite, in order of time, evenly spaced  @returns 0 for a constant series
 * @throws RangeError if empty, not finite, or too short for the correction
 */
export function lagOneAutocorrelation(
  values: ArrayLike<number>,
  { biasCorrected = false }: { readonly biasCorrected?: boolean } = {},
): number {
  assertFinite('values', values)
  const n = values.length
  if (biasCorrected && n < 5) throw new RangeError(`values must have at least five entries to correct bias, got ${n}`)
  const center = mean(Array.from(values))
  let products = 0
  let squares = 0
  for (let i = 0; i < n; i++) {
    const deviation = values[i]! - center
    squares += deviation * deviation
    if (i > 0) products += deviation * (values[i - 1]! - center)
  }
  if (squares === 0) return 0
  const r = products / squares
  return biasCorrected ? Math.max(-1, Math.min(1, (n * r + 1) / (n - 4))) : r
}

/**
 * How many independent values tell as much about a mean as n values of a first-order autoregression: n(1 − φ)/(1 + φ),
 * good where n is large against 1/(1 − φ).
 * @param phi lag-one autocorrelation, above −1 and below 1  @throws RangeError outside
 */
export function effectiveSampleSize(n: number, phi: number): number {
  if (!(n >= 0)) throw new RangeError(`n must be 0 or more, got ${n}`)
  assertPhi(phi)
  return (n * (1 - phi)) / (1 + phi)
}

// Correlations below it no longer change the sum.
const NO_CORRELATION = 1e-17

/**
 * The same for any n: n/(1 + 2·Σ (1 − j/n)·φʲ) over the lags j = 1 to n − 1, the ratio of the variance of one value to
 * that of the mean (Priestley 1981, Spectral Analysis and Time Series, 5.3.2).
 * @param n whole number of values, 0 or more  @param phi lag-one autocorrelation, above −1 and below 1
 * @throws RangeError outside
 */
export function exactEffectiveSampleSize(n: number, phi: number): number {
  if (!(Number.isSafeInteger(n) && n >= 0)) throw new RangeError(`n must be a whole number from 0 on, got ${n}`)
  assertPhi(phi)
  let sum = 0
  let correlation = phi
  for (let lag = 1; lag < n && Math.abs(correlation) > NO_CORRELATION; lag++) {
    sum += (1 - lag / n) * correlation
    correlation *= phi
  }
  return n / (1 + 2 * sum)
}

function assertPhi(phi: number): void {
  if (!(phi > -1 && phi < 1)) throw new RangeError(`phi must be above -1 and below 1, got ${phi}`)
}
