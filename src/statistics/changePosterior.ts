import { ln } from './distributions.js'

/**
 * Values that may hold a change of known form and unknown size: y = g·(loading·offsets) + f·size + noise. The offsets
 * are nuisances that several series may share; f is what a hypothesis says. Values may have been whitened: then y, g
 * and f all were, by the same coefficients.
 */
export interface EvidenceSeries {
  readonly y: readonly number[]
  readonly variance: readonly number[]
  /** What one unit of the series' own mix of offsets adds to each value. */
  readonly g: readonly number[]
  /** Share of each offset in that mix. */
  readonly loading: readonly number[]
}

/** Offsets of all series with what the values alone, without any change, say of them. */
export interface Offsets {
  /** Inverse of the posterior precision, rows of a symmetric matrix. */
  readonly covariance: readonly (readonly number[])[]
  /** Posterior means if nothing changed. */
  readonly means: readonly number[]
}

/**
 * Posterior of the offsets, normal with prior means 0.
 * @param priorVariances by offset, above 0
 */
export function solveOffsets(series: readonly EvidenceSeries[], priorVariances: readonly number[]): Offsets {
  const precision = priorVariances.map((variance, i) => priorVariances.map((_, j) => (i === j ? 1 / variance : 0)))
  const weighted = priorVariances.map(() => 0)
  for (const { y, variance, g, loading } of series) {
    let gg = 0
    let gy = 0
    for (let i = 0; i < y.length; i++) {
      const part = g[i]! / variance[i]!
      gg += g[i]! * part
      gy += y[i]! * part
    }
    loading.forEach((share, i) => {
      weighted[i] = weighted[i]! + share * gy
      loading.forEach((other, j) => (precision[i]![j] = precision[i]![j]! + share * other * gg))
    })
  }
  const covariance = inverse(precision)
  return { covariance, means: product(covariance, weighted) }
}

/** Accumulates one hypothesis over several series. */
export interface ChangeSums {
  ff: number
  fy: number
  /** Σ f·g over the variance, spread over the offsets by each series' loading. */
  readonly fg: number[]
}

export function newChangeSums(offsets: number): ChangeSums {
  return { ff: 0, fy: 0, fg: new Array<number>(offsets).fill(0) }
}

/** What a hypothesis makes of the evidence. */
export interface ChangeScore {
  /** Log marginal likelihood against "no change". */
  readonly logEvidence: number
  /** Posterior of the size. */
  readonly mean: number
  readonly sd: number
}

/**
 * Posterior and evidence of a size with prior N(priorMean, priorSd²), offsets integrated out: closed form of the Gaussian
 * linear model by block elimination of the normal equations.
 */
export function scoreChange(
  { ff, fy, fg }: ChangeSums,
  { covariance, means }: Offsets,
  priorSd: number,
  priorMean = 0,
): ChangeScore {
  let explained = 0
  let shifted = 0
  for (let i = 0; i < fg.length; i++) {
    const part = fg[i]!
    if (part === 0) continue
    const row = covariance[i]!
    let sum = 0
    for (let j = 0; j < fg.length; j++) sum += row[j]! * fg[j]!
    explained += part * sum
    shifted += part * means[i]!
  }
  const information = Math.max(0, ff - explained)
  const precision = information + 1 / (priorSd * priorSd)
  // What the values say beyond the prior mean.
  const left = fy - shifted - priorMean * information
  return {
    logEvidence:
      priorMean * (left + 0.5 * priorMean * information) +
      (0.5 * left * left) / precision -
      0.5 * ln(precision * priorSd * priorSd),
    mean: priorMean + left / precision,
    sd: 1 / Math.sqrt(precision),
  }
}

/** By offset: how much lower its posterior mean is for each unit of the size. */
export function offsetCoupling({ fg }: ChangeSums, { covariance }: Offsets): number[] {
  return product(covariance, fg)
}

function product(matrix: readonly (readonly number[])[], vector: readonly number[]): number[] {
  return matrix.map(row => {
    let sum = 0
    for (let i = 0; i < row.length; i++) sum += row[i]! * vector[i]!
    return sum
  })
}

/** Gauss–Jordan without pivoting: a precision with a prior on every offset is positive definite. */
function inverse(matrix: readonly (readonly number[])[]): number[][] {
  const n = matrix.length
  const left = matrix.map(row => [...row])
  const right = left.map((_, i): number[] => left.map((__, j) => (i === j ? 1 : 0)))
  for (let k = 0; k < n; k++) {
    const pivot = left[k]![k]!
    for (let j = 0; j < n; j++) {
      left[k]![j] = left[k]![j]! / pivot
      right[k]![j] = right[k]![j]! / pivot
    }
    for (let i = 0; i < n; i++) {
      const factor = left[i]![k]!
      if (i === k || factor === 0) continue
      for (let j = 0; j < n; j++) {
        left[i]![j] = left[i]![j]! - factor * left[k]![j]!
        right[i]![j] = right[i]![j]! - factor * right[k]![j]!
      }
    }
  }
  return right
}
