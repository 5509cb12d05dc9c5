import type { ChangeSums, PreparedSeries } from '../../src/statistics/changePosterior.js'

/** A series of values y = g·offset + f·size + noise, whitened, with the effect of a change once it is fully there. */
export interface WhitenedSeries extends PreparedSeries {
  readonly times: readonly number[]
  readonly phi: readonly number[]
  readonly effect: readonly number[]
}

/**
 * The sums of a change, value by value as the Gaussian linear model is written down: the effect at each value, whitened
 * against the one before, and the offset eliminated from the normal equations.
 * @param shareAt share of the change that is there at a time
 */
export function addDirectly(into: ChangeSums, series: WhitenedSeries, shareAt: (time: number) => number): void {
  let [ff, fy, fg] = [0, 0, 0]
  let before = 0
  for (const [i, time] of series.times.entries()) {
    const now = series.effect[i]! * shareAt(time)
    const f = now - series.phi[i]! * before
    before = now
    ff += (f * f) / series.variance[i]!
    fy += (f * series.y[i]!) / series.variance[i]!
    fg += (f * series.g[i]!) / series.variance[i]!
  }
  into.ff += ff - (fg * fg) / series.margin.precision
  into.fy += fy - (fg * series.margin.gy) / series.margin.precision
}
