import { sharedOffset } from '../compare/laboratoryOffset.js'
import { sharedLines } from '../compare/sampleLines.js'
import { foundOutside } from '../compare/verification.js'
import { chartShare } from '../detect/chart.js'
import { PRIOR_NOISE } from '../detect/redundantChart.js'
import { sigmaFactor } from '../detect/sigma.js'
import { estimateUnit } from '../diagnose/estimate.js'
import { layOutEvidence, type PointEvidence } from '../diagnose/evidence.js'
import type { LaboratoryView } from '../diagnose/laboratory.js'
import { type PointPosterior, weighHypotheses } from '../diagnose/posterior.js'
import { DAY_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'
import { mean } from '../statistics/mean.js'

/** Evidence older than this is not weighed. */
const EVIDENCE_DAYS = 56

/** Whether the posterior is worth running: a chart has come half way, a case or proof waits, or a new day began. */
export function isDueForEstimate(state: PointState, endMs: number): boolean {
  const { fold } = state
  const newDay = endMs % DAY_MS === 0 || fold.estimatedMs === 0
  if (newDay) return fold.evidenceSinceEstimate || fold.units.some(unit => unit.estimate !== null)
  if (!fold.evidenceSinceEstimate) return false
  return (
    fold.units.some(unit => chartShare(unit.grab.chart) > 0.5 || unit.case !== null || unit.proof !== null) ||
    fold.lines.some(line => chartShare(line.chart) > 0.5) ||
    fold.units.some(unit => foundOutside(unit.verifications, unit.adjustedMs) !== undefined) ||
    fold.pointCase !== null
  )
}

/** Weighs the evidence of a point and leaves each unit's estimate in the fold. @returns the posterior itself */
export function estimatePoint(
  context: PointContext,
  state: PointState,
  endMs: number,
  laboratory: LaboratoryView | null,
): PointPosterior {
  const { fold } = state
  const evidence = evidenceOf(context, state, endMs)
  const levels = fold.units.map(unit => unit.levelNtu).filter(level => level !== null)
  const levelNtu = levels.length > 0 ? levels.reduce((sum, level) => sum + level, 0) / levels.length : 0
  const posterior = weighHypotheses({
    evidence,
    atMs: endMs,
    toleranceNtu: toleranceAt(context.point.tolerance, levelNtu),
    cleaningsMs: fold.units.map(unit => unit.cleaningsMs),
    recoveredMs: fold.units.map(unit => unit.recoveredMs),
    laboratory,
    sampleLines: sharedLines(context.analyzers),
  })
  fold.units.forEach((unit, i) => {
    const analyzer = context.analyzers[i]
    if (analyzer === undefined || unit.levelNtu === null) return
    const toleranceNtu = toleranceAt(analyzer.tolerance, unit.levelNtu)
    unit.estimate = estimateUnit(posterior, i, unit.levelNtu, toleranceNtu)
  })
  fold.estimatedMs = endMs
  fold.evidenceSinceEstimate = false
  return posterior
}

export function evidenceOf(context: PointContext, state: PointState, endMs: number): PointEvidence {
  const { fold } = state
  return layOutEvidence({
    pairs: state.pairs,
    differences: state.differences,
    verifications: fold.units.map(unit => unit.verifications),
    units: fold.units.length,
    offset: sharedOffset(fold.units.map(unit => unit.offset)),
    grabSigma: mean(fold.units.map(unit => sigmaFactor(unit.grab.sigma))),
    phi: fold.lines.length > 0 ? mean(fold.lines.map(line => line.noise.phi)) : PRIOR_NOISE.phi,
    unitSigma: fold.lines.length > 0 ? mean(fold.lines.map(line => line.noise.sigmaFactor)) : PRIOR_NOISE.sigmaFactor,
    sinceMs: fold.units.map(unit => unit.adjustedMs),
    laboratoryIntervals: context.laboratoryIntervals,
    fromMs: endMs - EVIDENCE_DAYS * DAY_MS,
  })
}
