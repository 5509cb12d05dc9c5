import type { Plant } from '../model/plant.js'
import { DAY_MS } from '../model/time.js'
import { median } from '../statistics/robust.js'
import { advanceChart, type Chart, newChart, restartChart } from './chart.js'
import { solveLimit } from './limit.js'
import { learnSigmaFromDifference, newSigmaLearner, type SigmaLearner, sigmaFactor } from './sigma.js'

/** Grab line of one unit. */
export interface GrabChart {
  readonly chart: Chart
  readonly sigma: SigmaLearner
  /** Uncertainties of the newest pairs, tolerances: the limit is solved at their median. */
  recentU: number[]
  /** Residuals of the newest five pairs, tolerances: what a suspect pair is held against. */
  recentResiduals: number[]
  /** Times of the newest pairs, for the realised rate. */
  recentMs: number[]
}

const MEDIAN_OF = 21
export const SUSPECT_OF = 5
const RATE_DAYS = 14
const RATE_PAIRS = 8
const LEAST_FOR_RATE = 4

export function newGrabChart(): GrabChart {
  return { chart: newChart(), sigma: newSigmaLearner(), recentU: [], recentResiduals: [], recentMs: [] }
}

export function restartGrabChart(line: GrabChart): void {
  restartChart(line.chart)
  line.recentResiduals = []
  line.sigma.last = null
}

/** Uncertainty of a pair as the record has shown it to be. */
export function effectiveU(line: GrabChart, declaredU: number): number {
  return declaredU * sigmaFactor(line.sigma)
}

/**
 * Charts one pair of one unit.
 * @param residual analyzer minus grab net of the laboratory's offset, tolerances  @param declaredU its standard uncertainty
 * @param sides one-sided charts of the analyzer that share the budget
 */
export function chartGrabPair(
  line: GrabChart,
  plant: Plant,
  perDayPlanned: number,
  sides: number,
  atMs: number,
  residual: number,
  declaredU: number,
): void {
  const u = effectiveU(line, declaredU)
  line.recentU = [...line.recentU.slice(-(MEDIAN_OF - 1)), u]
  line.recentMs = recentTimes(line.recentMs, atMs)
  const perDay = rateInForce(line, perDayPlanned, atMs)
  const { limit, solvedFor } = solveLimit({
    u: median(line.recentU),
    delta0: plant.delta0,
    delta1: plant.delta1,
    valuesPerDay: perDay,
    budgetYears: plant.analyzerYearsPerFalseAlarm,
    sides,
  })
  if (solvedFor !== line.chart.solvedFor) rescale(line.chart, limit, solvedFor)
  advanceChart(line.chart, { atMs, residual, u, delta0: plant.delta0, delta1: plant.delta1 })
  if (line.chart.signalSinceMs === null) learnSigmaFromDifference(line.sigma, residual / declaredU)
  else line.sigma.last = null
  line.recentResiduals = [...line.recentResiduals.slice(-(SUSPECT_OF - 1)), residual]
}

/** The planned rate, until the realised one over a fortnight or the last eight pairs is off by a factor of two. */
function rateInForce(line: GrabChart, planned: number, atMs: number): number {
  const chart = line.chart
  if (chart.perDay === 0) chart.perDay = planned
  const first = line.recentMs[0] ?? atMs
  if (line.recentMs.length < LEAST_FOR_RATE || atMs - first < (RATE_DAYS - 2) * DAY_MS) return chart.perDay
  const realised = (line.recentMs.length - 1) / ((atMs - first) / DAY_MS)
  if (realised > 2 * chart.perDay || realised < chart.perDay / 2) chart.perDay = realised
  return chart.perDay
}

/** Times of a fortnight, and of eight pairs where they come less often. */
function recentTimes(timesMs: readonly number[], atMs: number): number[] {
  const fortnight = timesMs.filter(time => time > atMs - RATE_DAYS * DAY_MS)
  return [...(fortnight.length >= RATE_PAIRS - 1 ? fortnight : timesMs.slice(-(RATE_PAIRS - 1))), atMs]
}

/** A new limit keeps how far, as a share, the chart had come. */
export function rescale(chart: Chart, limit: number, solvedFor: string): void {
  if (chart.limit > 0) {
    const factor = limit / chart.limit
    chart.high *= factor
    chart.low *= factor
  }
  chart.limit = limit
  chart.solvedFor = solvedFor
}
