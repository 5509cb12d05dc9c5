import { assertPositive } from './finite.js'

/** Exponentially weighted moving average. It starts as `{ z: target, fading: 1 }`. */
export interface Ewma {
  /** Unit of the values. */
  readonly z: number
  /** (1 − λ)^2n after n values: the part of the lasting variance that is still missing. */
  readonly fading: number
}

/**
 * One step z ← (1 − λ)z + λx (Roberts 1959, Technometrics 1:239; NIST/SEMATECH e-Handbook 6.3.2.4). The chart signals
 * when |z − target| is strictly above L times ewmaSd or ewmaLastingSd.
 * @param value finite  @param lambda weight of the newest value, above 0 up to 1
 * @throws RangeError naming what is out of range
 */
export function advanceEwma({ z, fading }: Ewma, value: number, lambda: number): Ewma {
  if (!Number.isFinite(value)) throw new RangeError(`value must be a finite number, got ${value}`)
  assertLambda(lambda)
  const rest = 1 - lambda
  return { z: rest * z + lambda * value, fading: fading * rest * rest }
}

/**
 * Exact standard deviation of z for independent values: σ·√(λ/(2 − λ)·(1 − (1 − λ)^2n)) (Lucas and Saccucci 1990,
 * Technometrics 32:1); 0 before the first value.
 * @param lambda that of the steps  @param sigma standard deviation of one value, above 0
 * @throws RangeError naming what is out of range
 */
export function ewmaSd({ fading }: Ewma, lambda: number, sigma: number): number {
  return ewmaLastingSd(lambda, sigma) * Math.sqrt(1 - fading)
}

/** What ewmaSd grows to, σ·√(λ/(2 − λ)): the sd of the fixed limits. @throws RangeError naming what is out of range */
export function ewmaLastingSd(lambda: number, sigma: number): number {
  assertLambda(lambda)
  assertPositive('sigma', sigma)
  return sigma * Math.sqrt(lambda / (2 - lambda))
}

function assertLambda(lambda: number): void {
  if (!(lambda > 0 && lambda <= 1)) throw new RangeError(`lambda must be above 0 and at most 1, got ${lambda}`)
}
