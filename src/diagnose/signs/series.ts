import type { Difference } from '../../compare/difference.js'
import type { Pair } from '../../compare/pair.js'
import { inverseVarianceMean } from '../../statistics/mean.js'

/** One value of a unit's error as something independent shows it; what stays the same all the time may be in it. */
export interface ErrorValue {
  readonly atMs: number
  readonly ntu: number
  readonly uNtu: number
  readonly levelNtu: number
}

/** Spread of six hours' difference between units, tolerances: slow unlikeness of the water in two cells. */
const DIFFERENCE_U = 0.15

/**
 * What a unit shows against the other units where there are any, else against the grab samples, in order of time. Never
 * both: they have different offsets.
 */
export function errorSeries(
  pairs: readonly Pair[],
  differences: readonly Difference[],
  units: number,
  unit: number,
): ErrorValue[] {
  if (units > 1)
    return differences.flatMap(({ atMs, deviationsNtu, toleranceNtu, levelNtu }) => {
      const own = deviationsNtu[unit]
      const taking = deviationsNtu.filter(value => value !== null).length
      if (own == null || taking < 2) return []
      // From the mean of all, itself included, to the mean of the others.
      return [{ atMs, ntu: (own * taking) / (taking - 1), uNtu: DIFFERENCE_U * toleranceNtu, levelNtu }]
    })
  return pairs.flatMap(({ atMs, use, qualifier, grabNtu, units: paired }) => {
    const own = paired[unit]
    if (use !== 'used' || qualifier !== null || own == null) return []
    return [{ atMs, ntu: own.ntu - grabNtu, uNtu: own.uNtu, levelNtu: own.ntu }]
  })
}

/** Weighted mean and its standard uncertainty; undefined of nothing. */
export function meanOf(values: readonly ErrorValue[]): { readonly ntu: number; readonly uNtu: number } | undefined {
  const { mean, weight } = inverseVarianceMean(values.map(({ ntu, uNtu }) => ({ value: ntu, u: uNtu })))
  return weight === 0 ? undefined : { ntu: mean, uNtu: Math.sqrt(1 / weight) }
}
