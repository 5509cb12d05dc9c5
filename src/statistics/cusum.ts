/**
 * One step of the upper tabular CUSUM, C ← max(0, C + z − k) (Page 1954; NIST/SEMATECH e-Handbook 6.3.2.3). It signals
 * when C is strictly above its limit. For the lower chart hand in −z.
 * @param sum C so far, 0 or more  @param z standardised value  @param k reference value; same unit as z
 */
export function advanceTabularCusum(sum: number, z: number, k: number): number {
  return Math.max(0, sum + z - k)
}

/**
 * One step of a CUSUM whose increments are capped, S ← max(0, S + min(increment, cap)), so that no single value can
 * reach a limit above the cap.
 * @param sum S so far, 0 or more  @param cap largest rise in one step, above 0 or Infinity; unit of the increment
 */
export function advanceCusum(sum: number, increment: number, cap: number): number {
  return Math.max(0, sum + Math.min(increment, cap))
}

/**
 * Log-likelihood ratio of a mean of delta1 against delta0 for one normal residual of standard uncertainty u:
 * (δ1 − δ0)/u² · (r − (δ0 + δ1)/2). Summed by a CUSUM it lets values of unequal u share one chart; at constant u the
 * chart is the tabular CUSUM of (r − δ0)/u with k = (δ1 − δ0)/2u, all in units of 2k. For the lower side hand in −r.
 * @param residual r  @param u above 0  @param delta0 edge of the dead band  @param delta1 above delta0; all same unit
 * @returns natural-log units
 */
export function deadBandIncrement(residual: number, u: number, delta0: number, delta1: number): number {
  return ((delta1 - delta0) / (u * u)) * (residual - (delta0 + delta1) / 2)
}

/** An upper and a lower CUSUM run together. To restart after a signal or after work, start anew. */
export interface TwoSidedCusum {
  /** The sums; a side signals when its own is strictly above the limit. */
  readonly high: number
  readonly low: number
  /**
   * Values since the side was last zero, or since the start if it never was: its rise began so many values back, and
   * for a tabular CUSUM without a head start left in it the mean there is about k + sum/run.
   */
  readonly highRun: number
  readonly lowRun: number
}

/** @param headStart both sums before the first value, 0 or more  @throws RangeError if it is not */
export function startTwoSidedCusum(headStart = 0): TwoSidedCusum {
  if (!(headStart >= 0 && headStart < Infinity))
    throw new RangeError(`headStart must be a finite number from 0, got ${headStart}`)
  return { high: headStart, low: headStart, highRun: 0, lowRun: 0 }
}

/**
 * One step of both sides, each as advanceCusum. The increments of the tabular CUSUM are z − k and −z − k, those with a
 * dead band deadBandIncrement of r and of −r.
 * @param cap largest rise in one step, above 0; Infinity if left out
 * @throws RangeError if an increment is not a number
 */
export function advanceTwoSidedCusum(
  state: TwoSidedCusum,
  highIncrement: number,
  lowIncrement: number,
  cap = Infinity,
): TwoSidedCusum {
  const high = advanceCusum(state.high, highIncrement, cap)
  const low = advanceCusum(state.low, lowIncrement, cap)
  if (Number.isNaN(high + low))
    throw new RangeError(`increments and cap must be numbers, got ${highIncrement}, ${lowIncrement} and ${cap}`)
  return { high, low, highRun: high === 0 ? 0 : state.highRun + 1, lowRun: low === 0 ? 0 : state.lowRun + 1 }
}
