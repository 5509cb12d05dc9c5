import type { ChangeSums, EvidenceSeries } from '../../src/statistics/changePosterior.js'

/** A series of values y = g·(loading·offsets) + f·size + noise, whitened, with the effect of a change once fully there. */
export interface WhitenedSeries extends EvidenceSeries {
  readonly times: readonly number[]
  readonly phi: readonly number[]
  readonly effect: readonly number[]
}

/** The effect of a change at each value, whitened against the one before. @param shareAt share that is there at a time */
export function whitenedEffect(series: WhitenedSeries, shareAt: (time: number) => number): number[] {
  let before = 0
  return series.times.map((time, i) => {
    const now = series.effect[i]! * shareAt(time)
    const f = now - series.phi[i]! * before
    before = now
    return f
  })
}

/** The sums of a change, value by value as the Gaussian linear model is written down. */
export function addDirectly(into: ChangeSums, series: WhitenedSeries, shareAt: (time: number) => number): void {
  let fg = 0
  whitenedEffect(series, shareAt).forEach((f, i) => {
    into.ff += (f * f) / series.variance[i]!
    into.fy += (f * series.y[i]!) / series.variance[i]!
    fg += (f * series.g[i]!) / series.variance[i]!
  })
  series.loading.forEach((share, k) => {
    into.fg[k] = into.fg[k]! + share * fg
  })
}
