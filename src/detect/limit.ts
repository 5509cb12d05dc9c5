import { roundSignificant } from '../model/rounding.js'
import { exp, ln } from '../statistics/distributions.js'
import { solveOneSidedLimit } from '../statistics/solveLimit.js'
import { CAP_FRACTION } from './chart.js'

/** What a limit is solved from. */
export interface LimitRequest {
  /** Standard uncertainty of one value, tolerances. */
  readonly u: number
  readonly delta0: number
  readonly delta1: number
  readonly valuesPerDay: number
  /** Analyzer-years per false alarm of the whole budget. */
  readonly budgetYears: number
  /** One-sided charts of the analyzer that share the budget. */
  readonly sides: number
}

export interface SolvedLimit {
  /** In log-likelihood units, as the chart runs. */
  readonly limit: number
  /** Names the inputs, so that a chart knows whether its limit still stands. */
  readonly solvedFor: string
  /** Asked average run length of one side, values. */
  readonly arl: number
}

/** Steps to a factor of e on which uncertainty and rate are rounded before solving: 2.8 % each, at most 4.4 % of the budget. */
const GRID = 36
const DAYS_PER_YEAR = 365.25

/**
 * Limit of one side such that, with the true bias standing at delta0, the chart's share of the false-alarm budget is
 * kept. Solved by integral equation for capped increments; the inputs are first put on a grid so that small changes
 * of the uncertainty do not move it.
 */
export function solveLimit(request: LimitRequest): SolvedLimit {
  const u = onGrid(request.u)
  const perDay = onGrid(request.valuesPerDay)
  const k = (request.delta1 - request.delta0) / (2 * u)
  const arl = request.budgetYears * DAYS_PER_YEAR * perDay * request.sides
  const solvedFor = `k=${String(roundSignificant(k, 4))};arl=${String(roundSignificant(arl, 4))}`
  let limit = solved.get(solvedFor)
  if (limit === undefined) {
    limit = roundSignificant(2 * k * solveOneSidedLimit({ k, arl, capFraction: CAP_FRACTION }), 6)
    solved.set(solvedFor, limit)
  }
  return { limit, solvedFor, arl }
}

/** Solving is pure and costs milliseconds: the same question is answered once. */
const solved = new Map<string, number>()

function onGrid(value: number): number {
  return roundSignificant(exp(Math.round(ln(value) * GRID) / GRID), 6)
}
