import { assertPositive } from './finite.js'

/** A ramp rises by its size with each value from the onset on (size, 2·size, …), a step by its size once. */
export type ChangeShape = 'ramp' | 'step'

/**
 * Sums of one change of known shape and unknown size and onset, one entry for each onset still looked at, the oldest
 * first. They grow only, so that nothing cancels; an onset that leaves the window takes its sums along.
 */
export interface GlrChart {
  /** Values so far. */
  readonly n: number
  /** Σ d·x/σ² from the onset on; d is 1, 2, 3 … for a ramp and 1 for a step. */
  readonly scores: readonly number[]
  /** Σ d²/σ² from the onset on. */
  readonly weights: readonly number[]
}

export interface GlrSettings {
  readonly shape: ChangeShape
  /** Onsets looked at: the last so many values; a whole number from 1. */
  readonly window: number
}

export interface GlrPeak {
  /** Largest log-likelihood ratio of a change against none, natural-log units; 0 if nothing speaks for a change. */
  readonly statistic: number
  /** null with a statistic of 0, as are the two below. */
  readonly side: 'high' | 'low' | null
  /** Position of the first changed value, counted from 0 since the start; the smallest of equals. */
  readonly onsetIndex: number | null
  /** Most likely size, negative on the low side; unit of the values, for a ramp per value. */
  readonly size: number | null
}

export function newGlrChart(): GlrChart {
  return { n: 0, scores: [], weights: [] }
}

/**
 * Takes the next value into all onsets in the window and adds its own, in time proportional to the window.
 * @param value finite, with the known mean taken off  @param sigma its standard deviation, above 0; may differ by value
 * @throws RangeError naming what is out of range
 */
export function advanceGlr(chart: GlrChart, value: number, sigma: number, { shape, window }: GlrSettings): GlrChart {
  if (!Number.isFinite(value)) throw new RangeError(`value must be a finite number, got ${value}`)
  assertPositive('sigma', sigma)
  if (!(Number.isInteger(window) && window >= 1))
    throw new RangeError(`window must be a whole number from 1, got ${window}`)
  const weight = 1 / (sigma * sigma)
  const weighted = value * weight
  const slope = shape === 'ramp' ? 1 : 0
  const kept = Math.min(chart.n + 1, window)
  const dropped = chart.scores.length + 1 - kept
  const scores = new Array<number>(kept)
  const weights = new Array<number>(kept)
  for (let i = 0; i < kept - 1; i++) {
    const d = 1 + slope * (kept - 1 - i)
    scores[i] = chart.scores[i + dropped]! + d * weighted
    weights[i] = chart.weights[i + dropped]! + d * d * weight
  }
  scores[kept - 1] = weighted
  weights[kept - 1] = weight
  return { n: chart.n + 1, scores, weights }
}

/**
 * Maximum over the onsets of (Σ d·x/σ²)²/(2·Σ d²/σ²), the generalised likelihood ratio (Lorden 1971, Annals of
 * Mathematical Statistics 42:1897; Siegmund and Venkatraman 1995, Annals of Statistics 23:255, window of onsets after
 * Lai 1995, J. R. Stat. Soc. B 57:613). The chart signals strictly above its limit.
 * @param only changes of this side alone; both if left out
 */
export function glrPeak({ n, scores, weights }: GlrChart, only?: 'high' | 'low'): GlrPeak {
  let statistic = 0
  let best = -1
  for (let i = 0; i < scores.length; i++) {
    const score = scores[i]!
    if (only !== undefined && score > 0 !== (only === 'high')) continue
    const ratio = (0.5 * score * score) / weights[i]!
    if (ratio > statistic) {
      statistic = ratio
      best = i
    }
  }
  if (best === -1) return { statistic, side: null, onsetIndex: null, size: null }
  const size = scores[best]! / weights[best]!
  return { statistic, side: size > 0 ? 'high' : 'low', onsetIndex: n - scores.length + best, size }
}
