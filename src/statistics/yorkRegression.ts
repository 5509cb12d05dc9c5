import { assertFinite, assertPairs } from './finite.js'
import { ordinaryLeastSquares, type FittedLine } from './ordinaryLeastSquares.js'

export interface YorkInput {
  readonly x: readonly number[]
  readonly y: readonly number[]
  /** Standard uncertainty of each x, 0 or more. */
  readonly ux: readonly number[]
  /** Standard uncertainty of each y, above 0. */
  readonly uy: readonly number[]
}

/** The line with standard deviations that follow from ux and uy alone, not from the scatter. */
export interface YorkLine extends FittedLine {
  /** Weighted sum of squares about the line; chi-square with n − 2 degrees of freedom if ux and uy are right. */
  readonly chiSquare: number
  /** False where the slope still moved after 200 rounds: the values bear no line. */
  readonly converged: boolean
}

const ROUNDS = 200

/**
 * Best straight line with errors in both coordinates, a different one for each point (York, Evensen, Martínez and
 * De Basabe Delgado 2004, American Journal of Physics 72:367, without error correlations). Where ordinary least
 * squares would flatten the slope because x is uncertain too.
 * @throws RangeError naming what is wrong
 */
export function yorkRegression({ x, y, ux, uy }: YorkInput): YorkLine {
  assertPairs(x, y)
  assertUncertainties('ux', ux, x.length, 0)
  assertUncertainties('uy', uy, x.length, Number.MIN_VALUE)
  let slope = ordinaryLeastSquares(x, y).slope
  let converged = false
  let fit = improve({ x, y, ux, uy }, slope)
  for (let round = 0; round < ROUNDS && !converged; round++) {
    converged = Math.abs(fit.slope - slope) <= 1e-14 * Math.abs(fit.slope)
    slope = fit.slope
    fit = improve({ x, y, ux, uy }, slope)
  }
  const intercept = fit.meanY - slope * fit.meanX
  const slopeVariance = 1 / fit.adjustedSpread
  let chiSquare = 0
  for (let i = 0; i < x.length; i++) {
    const residual = y[i]! - intercept - slope * x[i]!
    chiSquare += fit.weights[i]! * residual * residual
  }
  return {
    intercept,
    slope,
    interceptSd: Math.sqrt(1 / fit.totalWeight + fit.adjustedMeanX * fit.adjustedMeanX * slopeVariance),
    slopeSd: Math.sqrt(slopeVariance),
    covariance: -fit.adjustedMeanX * slopeVariance,
    chiSquare,
    n: x.length,
    converged,
  }
}

interface Round {
  readonly slope: number
  readonly weights: readonly number[]
  readonly totalWeight: number
  readonly meanX: number
  readonly meanY: number
  /** Mean and weighted spread of the points moved onto the line, from which the errors are taken. */
  readonly adjustedMeanX: number
  readonly adjustedSpread: number
}

function improve({ x, y, ux, uy }: YorkInput, slope: number): Round {
  const weights = x.map((_, i) => 1 / (uy[i]! * uy[i]! + slope * slope * ux[i]! * ux[i]!))
  const totalWeight = weights.reduce((sum, weight) => sum + weight, 0)
  const meanX = weightedMean(x, weights, totalWeight)
  const meanY = weightedMean(y, weights, totalWeight)
  const moves = x.map(
    (value, i) => weights[i]! * ((value - meanX) * uy[i]! * uy[i]! + slope * (y[i]! - meanY) * ux[i]! * ux[i]!),
  )
  let rise = 0
  let run = 0
  for (let i = 0; i < x.length; i++) {
    rise += weights[i]! * moves[i]! * (y[i]! - meanY)
    run += weights[i]! * moves[i]! * (x[i]! - meanX)
  }
  const meanMove = weightedMean(moves, weights, totalWeight)
  const adjustedSpread = moves.reduce((sum, move, i) => sum + weights[i]! * (move - meanMove) * (move - meanMove), 0)
  return { slope: rise / run, weights, totalWeight, meanX, meanY, adjustedMeanX: meanX + meanMove, adjustedSpread }
}

function weightedMean(values: readonly number[], weights: readonly number[], totalWeight: number): number {
  return values.reduce((sum, value, i) => sum + weights[i]! * value, 0) / totalWeight
}

function assertUncertainties(name: string, values: readonly number[], n: number, least: number): void {
  assertFinite(name, values)
  if (values.length !== n) throw new RangeError(`${name} must have as many values as x (${n}), got ${values.length}`)
  const wrong = values.findIndex(value => value < least)
  if (wrong >= 0)
    throw new RangeError(`${name}[${wrong}] must be ${least === 0 ? '0 or more' : 'above 0'}, got ${values[wrong]!}`)
}
