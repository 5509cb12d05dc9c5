import { ln } from './distributions.js'

/**
 * Values that may hold a change of known form and unknown size: y = g·offset + f·size + noise. The offset is a
 * nuisance of the series with prior N(0, offsetSd²); f is what a hypothesis says. Values may have been whitened:
 * then y, g and f all were, by the same coefficients.
 */
export interface EvidenceSeries {
  readonly y: readonly number[]
  readonly variance: readonly number[]
  /** What one unit of the offset adds to each value. */
  readonly g: readonly number[]
  readonly offsetSd: number
}

/** Sums of a series that no hypothesis changes. */
interface Margin {
  readonly precision: number
  readonly gy: number
}

export interface PreparedSeries extends EvidenceSeries {
  readonly margin: Margin
}

export function prepareSeries(series: EvidenceSeries): PreparedSeries {
  let gg = 0
  let gy = 0
  for (let i = 0; i < series.y.length; i++) {
    const g = series.g[i]!
    const v = series.variance[i]!
    gg += (g * g) / v
    gy += (g * series.y[i]!) / v
  }
  return { ...series, margin: { precision: gg + 1 / (series.offsetSd * series.offsetSd), gy } }
}

/** What a hypothesis makes of the evidence. */
export interface ChangeScore {
  /** Log marginal likelihood against "no change". */
  readonly logEvidence: number
  /** Posterior of the size. */
  readonly mean: number
  readonly sd: number
}

/** Accumulates one hypothesis over several independent series. */
export interface ChangeSums {
  ff: number
  fy: number
}

/** Posterior and evidence of a size with prior N(0, priorSd²), closed form of the Gaussian linear model. */
export function scoreChange(sums: ChangeSums, priorSd: number): ChangeScore {
  const precision = Math.max(0, sums.ff) + 1 / (priorSd * priorSd)
  return {
    logEvidence: (0.5 * sums.fy * sums.fy) / precision - 0.5 * ln(precision * priorSd * priorSd),
    mean: sums.fy / precision,
    sd: 1 / Math.sqrt(precision),
  }
}
