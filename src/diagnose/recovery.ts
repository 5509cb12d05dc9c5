import { inverseVarianceMean } from '../statistics/mean.js'

/** A unit's grab residuals in order of sampling, tolerances, with their standard uncertainties. */
export interface UnitResidual {
  readonly atMs: number
  readonly residual: number
  readonly u: number
}

export interface Recovery {
  /** Newest sample that still had the error. */
  readonly untilMs: number
  /** Mean of the samples after it, tolerances, and their number. */
  readonly mean: number
  readonly n: number
}

/** Samples before the return that say how large the error was. */
const BEFORE = 12
const LEAST_BEFORE = 4
/** An error smaller than this cannot be seen to go, tolerances. */
const LEAST_SIZE = 0.4
/** After the return the mean lies within this, tolerances: an error that only changed is not gone. */
const GONE = 0.3
/** Log-likelihood for "gone" against "as before", each sample capped: four must agree. */
const GAIN = 12
const CAP = 3

/**
 * Whether an error that was there is gone although nobody worked on the analyzer: the tail of the samples that speaks
 * most for no error against the size it had just before. A film may be washed off, a bubble trap may vent. Undefined
 * while nothing says so.
 */
export function recoveredByItself(residuals: readonly UnitResidual[]): Recovery | undefined {
  let best: { gain: number; from: number } | undefined
  for (let from = residuals.length - 1; from >= LEAST_BEFORE; from--) {
    const before = meanOf(residuals.slice(Math.max(0, from - BEFORE), from))
    if (Math.abs(before) < LEAST_SIZE) continue
    const tail = residuals.slice(from)
    const gain = tail.reduce((sum, { residual, u }) => {
      const against = residual - before
      return sum + Math.max(-CAP, Math.min(CAP, (against * against - residual * residual) / (2 * u * u)))
    }, 0)
    if (best === undefined || gain > best.gain) best = { gain, from }
  }
  if (best === undefined || best.gain < GAIN) return undefined
  const tail = residuals.slice(best.from)
  const now = meanOf(tail)
  return Math.abs(now) > GONE ? undefined : { untilMs: residuals[best.from - 1]!.atMs, mean: now, n: tail.length }
}

function meanOf(values: readonly UnitResidual[]): number {
  return inverseVarianceMean(values.map(({ residual, u }) => ({ value: residual, u }))).mean
}
