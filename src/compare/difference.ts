/**
 * Six hours of redundant units at one point: what each differs from the mean of all, without saying who is right.
 * Kept about two months; the posterior reads these, the charts read the values of their own line.
 */
export interface Difference {
  /** End of the six hours. */
  readonly atMs: number
  readonly levelNtu: number
  readonly toleranceNtu: number
  /** Median over the blocks of unit minus mean of the usable units, NTU; null where it took no part. */
  readonly deviationsNtu: readonly (number | null)[]
  /** By line of the point: the chart's value and sums after it; null where the line had no value. */
  readonly lines: (LineValue | null)[]
}

export interface LineValue {
  readonly ofTolerance: number
  /** Standard deviation of an innovation, tolerances. */
  readonly uOfTolerance: number
  high: number
  low: number
  limit: number
}
