import type { EvidenceSeries } from '../../src/statistics/changePosterior.js'

/** A series with what one unit of a change adds to each value. */
export interface ChangedSeries extends EvidenceSeries {
  readonly f: readonly number[]
}

export interface DenseModel {
  readonly series: readonly ChangedSeries[]
  readonly offsetVariances: readonly number[]
  readonly priorSd: number
  readonly priorMean: number
}

export interface Moments {
  readonly mean: number
  readonly variance: number
}

/**
 * The same linear model by another way: no normal equations, but the covariance of all values at once, and the normal
 * distribution conditioned on them (Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, A.6 and 2.30;
 * from memory).
 */
export class DenseChange {
  private readonly y: number[]
  /** Values less what the prior expects of the change. */
  private readonly unexpected: number[]
  private readonly f: number[]
  /** By offset: what one unit of it adds to each value. */
  private readonly loads: number[][]
  private readonly without: Cholesky
  private readonly with: Cholesky

  constructor(private readonly model: DenseModel) {
    const { series, offsetVariances, priorSd, priorMean } = model
    this.y = series.flatMap(one => one.y)
    this.f = series.flatMap(one => one.f)
    this.unexpected = this.y.map((y, i) => y - priorMean * this.f[i]!)
    this.loads = offsetVariances.map((_, k) => series.flatMap(one => one.g.map(g => g * one.loading[k]!)))
    const noise = series.flatMap(one => one.variance)
    const covariance = noise.map((variance, i) =>
      noise.map((_, j) =>
        offsetVariances.reduce(
          (sum, prior, k) => sum + prior * this.loads[k]![i]! * this.loads[k]![j]!,
          i === j ? variance : 0,
        ),
      ),
    )
    this.without = new Cholesky(covariance)
    this.with = new Cholesky(
      covariance.map((row, i) => row.map((one, j) => one + priorSd * priorSd * this.f[i]! * this.f[j]!)),
    )
  }

  /** Log marginal likelihood with the change against without. */
  logEvidence(): number {
    return logDensity(this.with, this.unexpected) - logDensity(this.without, this.y)
  }

  size(): Moments {
    return this.combined(new Array<number>(this.loads.length).fill(0), 1)
  }

  /** Posterior of a sum of offsets and size, each times a number, given that there is a change. */
  combined(offsets: readonly number[], size: number): Moments {
    const { priorMean, priorSd } = this.model
    const { mean, variance } = this.condition(this.with, this.unexpected, offsets, size * priorSd * priorSd, size)
    return { mean: size * priorMean + mean, variance }
  }

  /** The same of offsets alone, given that there is none. */
  unchanged(offsets: readonly number[]): Moments {
    return this.condition(this.without, this.y, offsets, 0, 0)
  }

  private condition(
    covariance: Cholesky,
    values: readonly number[],
    offsets: readonly number[],
    sizeCovariance: number,
    size: number,
  ): Moments {
    const shares = offsets.map((one, k) => one * this.model.offsetVariances[k]!)
    const cross = this.f.map((f, i) =>
      shares.reduce((sum, share, k) => sum + share * this.loads[k]![i]!, sizeCovariance * f),
    )
    const solved = covariance.forward(cross)
    return {
      mean: dot(solved, covariance.forward(values)),
      variance: dot(offsets, shares) + size * sizeCovariance - dot(solved, solved),
    }
  }
}

function logDensity(covariance: Cholesky, y: readonly number[]): number {
  const solved = covariance.forward(y)
  return -0.5 * dot(solved, solved) - covariance.logDiagonal() - 0.5 * y.length * Math.log(2 * Math.PI)
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, one, i) => sum + one * b[i]!, 0)
}

/** Lower triangle whose product with its transpose is the matrix. */
class Cholesky {
  private readonly rows: number[][] = []

  constructor(matrix: readonly (readonly number[])[]) {
    matrix.forEach((row, i) => {
      const lower: number[] = []
      for (let j = 0; j <= i; j++) {
        const other = j === i ? lower : this.rows[j]!
        let rest = row[j]!
        for (let k = 0; k < j; k++) rest -= lower[k]! * other[k]!
        lower.push(j === i ? Math.sqrt(rest) : rest / other[j]!)
      }
      this.rows.push(lower)
    })
  }

  /** Solves the lower triangle. */
  forward(of: readonly number[]): number[] {
    const solved: number[] = []
    for (const [i, row] of this.rows.entries()) {
      let rest = of[i]!
      for (let k = 0; k < i; k++) rest -= row[k]! * solved[k]!
      solved.push(rest / row[i]!)
    }
    return solved
  }

  logDiagonal(): number {
    return this.rows.reduce((sum, row, i) => sum + Math.log(row[i]!), 0)
  }
}
