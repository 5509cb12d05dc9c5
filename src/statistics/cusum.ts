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
