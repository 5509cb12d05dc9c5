import type { Work } from '../model/messages.js'
import type { Case } from '../recommend/case.js'
import type { Contradiction } from '../recommend/contradiction.js'
import { visitSentences } from '../recommend/visitSentences.js'
import { median } from '../statistics/robust.js'
import type { UnitFold } from './pointState.js'

const LEAST_RECENT = 3

/** Work has been done: from here on evidence tells whether it helped. Records of one visit are one piece of work. */
export function beginProof(unit: UnitFold, work: Work, contradictions: readonly Contradiction[]): void {
  const { estimate, proof } = unit
  const { visit } = unit.work
  const sameVisit = proof !== null && visit !== null && proof.workMs >= visit.fromMs ? proof : null
  const recent = unit.grab.recentResiduals
  unit.proof = {
    workMs: work.atMs,
    // The adjustment is what a visit is judged by, whatever was cleaned with it.
    action: sameVisit !== null && isBeside(work) ? sameVisit.action : work.action,
    workId: work.id ?? null,
    before:
      proof?.before ??
      (estimate === null
        ? null
        : {
            value: estimate.biasNtu.value / estimate.toleranceNtu,
            half: (estimate.biasNtu.high - estimate.biasNtu.low) / (2 * estimate.toleranceNtu),
          }),
    lastPairs: sameVisit?.lastPairs ?? (recent.length >= LEAST_RECENT ? median(recent) : null),
    contradictions: [...(sameVisit?.contradictions ?? []), ...contradictions.map(({ text, ask }) => ({ text, ask }))],
    visit: visit === null ? [] : visitSentences(visit),
    residuals: [],
    us: [],
    checks: [],
    isReminded: false,
  }
  if (unit.case?.kind !== 'bias') return
  unit.case.phase = 'awaiting_proof'
  unit.case.notDone = null
}

function isBeside({ action }: Work): boolean {
  return action === 'cleaned' || action === 'line_flushed'
}

/** The record itself says that the work is not done: there is nothing to prove, and the request stays open. */
export function leaveUndone(unit: UnitFold, open: Case, work: Work, undone: Contradiction): void {
  unit.proof = null
  open.phase = 'open'
  open.notDone = { atMs: work.atMs, action: work.action, text: undone.text, ask: undone.ask }
}
