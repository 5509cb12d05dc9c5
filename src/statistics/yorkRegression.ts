import { assertFinite, assertPairs } from './finite.js'
import { type FittedLine, fittedLine } from './fittedLine.js'
import { ordinaryLeastSquares } from './ordinaryLeastSquares.js'

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
  let chiSquare = 0
  for (let i = 0; i < x.length; i++) {
    const residual = y[i]! - intercept - slope * x[i]!
    chiSquare += fit.weights[i]! * residual * residual
  }
  const line = fittedLine({
    intercept,
    slope,
    centreX: fit.adjustedMeanX,
    centreSd: Math.sqrt(1 / fit.totalWeight),
    slopeSd: Math.sqrt(1 / fit.adjustedSpread),
    df: Infinity,
    n: x.length,
  })
  return { ...line, chiSquare, converged }
}

/**
 * The same line with its uncertainties widened to the scatter where that is larger than ux and uy declare: times
 * √(chi-square/(n − 2)), and known no better than n − 2 values tell it. Never narrowed: a chance small scatter proves
 * nothing about the uncertainties.
 */
export function scaledByScatter(line: YorkLine): YorkLine {
  const ratio = line.chiSquare / (line.n - 2)
  if (!(ratio > 1)) return line
  const factor = Math.sqrt(ratio)
  return {
    ...line,
    ...fittedLine({ ...line, centreSd: factor * line.centreSd, slopeSd: factor * line.slopeSd, df: line.n - 2 }),
  }
}

/**
 * Standard deviation that the slope of a line y = x would have: from how far the x spread beyond what ux explains,
 * Infinity where they do not. It tells whether the x bear a line at all; `slopeSd` cannot, for it shrinks with every
 * slope that chance has flattened, and then intervals miss the truth.
 * @throws RangeError naming what is wrong
 */
export function slopeSdOfIdentity({ x, ux, uy }: Omit<YorkInput, 'y'>): number {
  assertFinite('x', x)
  assertUncertainties('ux', ux, x.length, 0)
  assertUncertainties('uy', uy, x.length, Number.MIN_VALUE)
  const weights = x.map((_, i) => 1 / (uy[i]! * uy[i]! + ux[i]! * ux[i]!))
  const totalWeight = weights.reduce((sum, weight) => sum + weight, 0)
  const meanX = weightedMean(x, weights, totalWeight)
  let spread = 0
  for (let i = 0; i < x.length; i++) {
    const explained = ux[i]! * ux[i]! * (1 - weights[i]! / totalWeight)
    spread += weights[i]! * ((x[i]! - meanX) * (x[i]! - meanX) - explained)
  }
  return spread > 0 ? 1 / Math.sqrt(spread) : Infinity
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
