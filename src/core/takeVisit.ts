import type { Work } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import type { Contradiction } from '../recommend/contradiction.js'
import { correctionOfVisit } from '../recommend/correction.js'
import { beginVisit, belongsTo, joinVisit } from '../recommend/visit.js'
import { visitSentences } from '../recommend/visitSentences.js'
import type { PointContext } from './context.js'
import type { UnitFold } from './pointState.js'

const KEPT_CORRECTIONS = 6

/** Joins a record to the visit in hand, or begins one, and works out anew what the visit says of the record before it. */
export function takeVisit(
  context: PointContext,
  unit: UnitFold,
  analyzer: Analyzer,
  work: Work,
  contradictions: readonly Contradiction[],
): void {
  const own = unit.work
  if (own.visit === null || !belongsTo(own.visit, work))
    own.visit = beginVisit(work, work.serial ?? own.serial ?? analyzer.serial ?? null, beginningsOf(unit))
  const { visit } = own
  joinVisit(visit, work, analyzer, !contradictions.some(one => one.effect === 'no_proof'))
  // A check after the work, in the same visit, says more of what was found.
  const { proof } = unit
  if (proof !== null && proof.workMs >= visit.fromMs && proof.workMs <= visit.toMs)
    unit.proof = { ...proof, visit: visitSentences(visit) }
  const correction = correctionOfVisit(visit, analyzer, context.point.grab, unit.levelNtu ?? 0)
  own.corrections = own.corrections.filter(one => one.visitMs < visit.fromMs).slice(-(KEPT_CORRECTIONS - 1))
  if (correction !== undefined) own.corrections.push(correction)
}

/** A film grows since the last cleaning, or since it is seen to; a calibration drifts since the last one. */
function beginningsOf(unit: UnitFold): { filmMs: number | null; calibrationMs: number | null } {
  const onset = unit.case?.kind === 'bias' ? unit.case.estimate?.onset : null
  const seenMs = onset == null || onset.beforeRecord ? null : onset.estimateMs
  const cleanedMs = Math.max(unit.cleaningsMs.at(-1) ?? 0, seenMs ?? 0)
  return {
    filmMs: cleanedMs > 0 ? cleanedMs : null,
    calibrationMs: unit.adjustedMs > 0 ? unit.adjustedMs : seenMs,
  }
}
