import { kept } from '../model/rounding.js'
import { priorInnovation, type RedundantLine } from '../compare/redundant.js'
import type { Plant } from '../model/plant.js'
import { DAY_MS } from '../model/time.js'
import { lagOneAutocorrelation } from '../statistics/autocorrelation.js'
import { median } from '../statistics/robust.js'
import { advanceChart, type Chart, newChart, restartChart } from './chart.js'
import { rescale } from './grabChart.js'
import { solveLimit } from './limit.js'
import { learnSigmaFromDifference, newSigmaLearner, type SigmaLearner, sigmaFactor } from './sigma.js'

/** Redundant line with its own baseline, learnt for a fortnight after work and never larger than delta0. */
export interface RedundantChart {
  readonly chart: Chart
  readonly sigma: SigmaLearner
  /** Values of the fortnight of learning, tolerances. */
  learning: number[]
  baseline: number
  phi: number
  /** Value before, for the innovation; null after a gap. */
  last: number | null
  /** How the six-hour values follow each other, for the posterior; the chart has a prior of its own. */
  noise: DifferenceNoise
  /** Four windows to one value where a fortnight showed the six-hour values too alike. */
  windowsPerValue: 1 | 4
  waiting: number[]
}

/** AR(1) of a line's six-hour values: coefficient, and standard deviation of an innovation over its prior. */
export interface DifferenceNoise {
  readonly phi: number
  readonly sigmaFactor: number
}

/**
 * Before a line has learnt: waters in two cells differ for a day or two at a time (simulated: an interval for a slow
 * onset holds its truth only where the posterior believes values to be as alike as they are).
 */
export const PRIOR_NOISE: DifferenceNoise = { phi: 0.6, sigmaFactor: 1 }
const NOISE_PRIOR_VALUES = 15
const NOISE_PHI_MOST = 0.95
const LEAST_FOR_NOISE = 8
const LEARNING_VALUES = 56
/**
 * Standard error of a baseline learnt from a fortnight, tolerances: added to the dead band, so that an estimated
 * baseline keeps the false-alarm budget (checked by simulation in the tests).
 */
export const BASELINE_ERROR = 0.03
/**
 * A weak prior: worth 60 values it kept the chart from whitening strong correlation, and at 0.8 the line alone took three
 * times the budget of its point, where it now takes half; at 0.5 or less a step is seen no more than a quarter-day later
 * (simulated).
 */
const PHI_PRIOR = 0.4
const PHI_PRIOR_VALUES = 15
const PHI_MOST = 0.9
const TOO_ALIKE = 0.7
/** Weight of a baseline of zero against the values seen. */
const BASELINE_PRIOR_VALUES = 4

export function newRedundantChart(): RedundantChart {
  return {
    chart: newChart(),
    sigma: newSigmaLearner(),
    learning: [],
    baseline: 0,
    phi: PHI_PRIOR,
    last: null,
    noise: PRIOR_NOISE,
    windowsPerValue: 1,
    waiting: [],
  }
}

export function restartRedundantChart(line: RedundantChart): void {
  restartChart(line.chart)
  line.sigma.last = null
  Object.assign(line, { learning: [], baseline: 0, last: null, waiting: [] })
}

/**
 * Charts one window of a line. AR(1) innovations are charted against (1 − phi) of the shift.
 * @param value tolerances, null where the window had too few blocks
 * @returns the chart's value and its standard deviation, or undefined where none was charted
 */
export function chartDifference(
  line: RedundantChart,
  named: RedundantLine,
  units: number,
  plant: Plant,
  sides: number,
  atMs: number,
  value: number | null,
): { ofTolerance: number; uOfTolerance: number } | undefined {
  if (value !== null) line.waiting.push(value)
  const isWhole = line.windowsPerValue === 1 || atMs % DAY_MS === 0
  if (!isWhole) return undefined
  const waiting = line.waiting
  line.waiting = []
  if (waiting.length < Math.ceil(line.windowsPerValue / 2)) {
    line.last = null
    line.sigma.last = null
    return undefined
  }
  const condensed = median(waiting)
  const sigma = priorInnovation(named, units) * sigmaFactor(line.sigma)
  const net = condensed - line.baseline
  const before = line.last
  line.last = condensed
  if (before !== null)
    chartInnovation(line, plant, sides, atMs, net - line.phi * (before - line.baseline), sigma, named, units)
  if (line.chart.signalSinceMs === null) learnBaseline(line, plant, condensed, priorInnovation(named, units))
  return { ofTolerance: condensed - line.baseline, uOfTolerance: sigma }
}

function chartInnovation(
  line: RedundantChart,
  plant: Plant,
  sides: number,
  atMs: number,
  innovation: number,
  sigma: number,
  named: RedundantLine,
  units: number,
): void {
  const share = 1 - line.phi
  const { limit, solvedFor } = solveLimit({
    u: sigma,
    delta0: share * (plant.delta0 + BASELINE_ERROR),
    delta1: share * plant.delta1,
    valuesPerDay: 4 / line.windowsPerValue,
    budgetYears: plant.analyzerYearsPerFalseAlarm,
    sides,
  })
  if (solvedFor !== line.chart.solvedFor) rescale(line.chart, limit, solvedFor)
  advanceChart(line.chart, {
    atMs,
    residual: innovation,
    u: sigma,
    delta0: share * (plant.delta0 + BASELINE_ERROR),
    delta1: share * plant.delta1,
  })
  if (line.chart.signalSinceMs === null)
    learnSigmaFromDifference(line.sigma, innovation / priorInnovation(named, units))
  else line.sigma.last = null
}

function learnBaseline(line: RedundantChart, plant: Plant, value: number, prior: number): void {
  if (line.learning.length >= LEARNING_VALUES) return
  line.learning.push(kept(value))
  let sum = 0
  for (const seen of line.learning) sum += seen
  const shrunk = sum / (line.learning.length + BASELINE_PRIOR_VALUES)
  line.baseline = Math.max(-plant.delta0, Math.min(plant.delta0, shrunk))
  if (line.windowsPerValue === 1 && line.learning.length >= LEAST_FOR_NOISE) line.noise = noiseOf(line.learning, prior)
  if (line.learning.length === LEARNING_VALUES) learnPhi(line)
}

function noiseOf(values: readonly number[], prior: number): DifferenceNoise {
  const n = values.length
  const raw = lagOneAutocorrelation(values, { biasCorrected: true })
  const shrunk = (NOISE_PRIOR_VALUES * PRIOR_NOISE.phi + n * raw) / (NOISE_PRIOR_VALUES + n)
  const phi = Math.max(0, Math.min(NOISE_PHI_MOST, shrunk))
  let sum = 0
  for (const value of values) sum += value
  let squares = 0
  for (let i = 1; i < n; i++) {
    const innovation = values[i]! - sum / n - phi * (values[i - 1]! - sum / n)
    squares += innovation * innovation
  }
  const variance = (NOISE_PRIOR_VALUES * prior * prior + squares) / (NOISE_PRIOR_VALUES + n - 1)
  return { phi, sigmaFactor: Math.sqrt(variance) / prior }
}

function learnPhi(line: RedundantChart): void {
  const raw = lagOneAutocorrelation(line.learning, { biasCorrected: true })
  const n = line.learning.length
  const shrunk = (PHI_PRIOR_VALUES * PHI_PRIOR + n * raw) / (PHI_PRIOR_VALUES + n)
  line.phi = Math.max(0, Math.min(PHI_MOST, shrunk))
  if (raw <= TOO_ALIKE || line.windowsPerValue === 4) return
  line.windowsPerValue = 4
  line.phi = phiOfDays(line.phi)
  line.last = null
}

/**
 * Correlation of means of four neighbouring values of an AR(1) with the next four (exact; a day's value is their median):
 * φ(1 + φ + φ² + φ³)² / (4 + 6φ + 4φ² + 2φ³). The fourth power holds for single values a day apart; means are more alike.
 */
function phiOfDays(phi: number): number {
  const sum = 1 + phi + phi * phi + phi * phi * phi
  return (phi * sum * sum) / (4 + 6 * phi + 4 * phi * phi + 2 * phi * phi * phi)
}
