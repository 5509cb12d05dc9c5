import { DAY_MS, sayInstant } from '../model/time.js'
import type { Outcome } from '../model/vocabulary.js'
import { judgeProof, type Judgement, type Proof, type Verdict } from '../recommend/proof.js'
import { WORK_WORDS } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { endBias } from './endBias.js'
import { keepProvenCorrection } from './provenCorrection.js'
import { noteZeroWater } from './noteZeroWater.js'
import { openBias } from './openBias.js'
import type { CaseEnd, PointState, UnitFold } from './pointState.js'
import { uncoveredSign } from './uncovered.js'
import { reminderData, verdictData } from './verdictData.js'

/** Without anything to judge by it is said after this that nothing is known yet. */
const REMIND_MS = 3 * DAY_MS

/** Judges work by what came after it: confirmed closes, not confirmed reopens, a fortnight without an answer is undecided. */
export function concludeProof(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  endMs: number,
): void {
  const { proof } = unit
  if (proof === null) return
  const judged = judgeProof(proof, endMs)
  if (judged.verdict === undefined) {
    remind(context, state, unit, i, proof, endMs)
    return
  }
  unit.proof = null
  // A record that speaks against itself proves nothing, even where the reading is right.
  const isProven = judged.verdict !== 'confirmed' || proof.contradictions.length === 0
  const verdict = isProven ? judged.verdict : 'undecided'
  if (verdict === 'confirmed') keepProvenCorrection(unit, context.analyzers[i], proof, judged)
  state.fold.notes.push({
    key: `proof ${context.analyzers[i]?.id ?? ''} ${String(proof.workMs)} ${proof.action}`,
    atMs: endMs,
    type: `work.${verdict}`,
    data: verdictData(context, unit, i, proof, judged, verdict),
  })
  const work = `the ${WORK_WORDS[proof.action]} of ${sayInstant(proof.workMs)}`
  if (verdict === 'confirmed') endBias(unit, closed(endMs, verdict, `${work} is confirmed`))
  else if (verdict === 'undecided') {
    if (unit.case?.phase === 'awaiting_proof')
      endBias(unit, closed(endMs, verdict, `${work} could be neither confirmed nor refuted`))
  } else reopen(context, state, unit, i, proof, judged, endMs)
}

/** Said once where nothing has come in; the shift summaries go on saying it. */
function remind(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  proof: Proof,
  endMs: number,
): void {
  if (proof.isReminded || proof.residuals.length + proof.checks.length > 0 || endMs - proof.workMs < REMIND_MS) return
  proof.isReminded = true
  state.fold.notes.push({
    key: `no proof yet ${context.analyzers[i]?.id ?? ''} ${String(proof.workMs)} ${proof.action}`,
    atMs: endMs,
    type: 'work.undecided',
    data: reminderData(context, unit, i, proof, endMs),
  })
}

function closed(atMs: number, outcome: Outcome & Verdict, reason: string): CaseEnd {
  return { atMs, how: 'closed', reason, outcome }
}

function reopen(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  proof: Proof,
  judged: Judgement,
  endMs: number,
): void {
  // A cleaning that uncovered an error did what a cleaning does.
  if (proof.action !== 'cleaned' || uncoveredSign(unit) === undefined) unit.failed = [...unit.failed, proof.action]
  if (proof.action === 'zero') noteZeroWater(context, state, unit, i, proof, judged, endMs)
  if (unit.estimate === null) return
  const before = unit.case
  openBias(context, state, unit, i, endMs)
  if (unit.case !== null && before !== null) unit.case = { ...unit.case, openedMs: before.openedMs }
}
