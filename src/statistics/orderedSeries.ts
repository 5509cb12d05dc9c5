import type { EvidenceSeries } from './changePosterior.js'

/** When the values of a series were, and how they were whitened. */
export interface SeriesTimes {
  /** In any unit, the same for all. Values that were whitened stand in order of time, others need not. */
  readonly times: readonly number[]
  /** AR(1) coefficient with which a value was whitened against the one before. */
  readonly phi: readonly number[]
}

/** A series in order of time, each value with its precision. */
export interface OrderedSeries {
  readonly times: Float64Array
  readonly phi: Float64Array
  readonly precision: Float64Array
  readonly y: Float64Array
  readonly g: Float64Array
  readonly loading: EvidenceSeries['loading']
  /** Where each value stood. */
  readonly order: readonly number[]
}

/** Lays a series out in order of time. */
export function orderSeries(series: EvidenceSeries, { times, phi }: SeriesTimes): OrderedSeries {
  const order = times.map((_, i) => i)
  // The sort keeps the order of equals.
  if (times.some((time, i) => i > 0 && time < times[i - 1]!)) order.sort((a, b) => times[a]! - times[b]!)
  return {
    times: Float64Array.from(order, i => times[i]!),
    phi: Float64Array.from(order, i => phi[i]!),
    precision: Float64Array.from(order, i => 1 / series.variance[i]!),
    y: Float64Array.from(order, i => series.y[i]!),
    g: Float64Array.from(order, i => series.g[i]!),
    loading: series.loading,
    order,
  }
}

/** How many of the ascending times are at or before `time`. */
export function countUpTo(times: Float64Array, time: number): number {
  let low = 0
  let high = times.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (times[middle]! <= time) low = middle + 1
    else high = middle
  }
  return low
}
