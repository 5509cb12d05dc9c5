import { othersOutvote } from '../compare/sampleLines.js'
import { foundOutside } from '../compare/verification.js'
import { leadingSide } from '../detect/chart.js'
import {
  changeSince,
  LABORATORY_WAIT_MS,
  type LaboratoryView,
  laboratoryView,
  OTHER_POINTS,
  othersHaveSpoken,
  type PointResiduals,
  speakingPoints,
  steepestSince,
} from '../diagnose/laboratory.js'
import type { UnitEstimate } from '../diagnose/estimate.js'
import type { PointPosterior } from '../diagnose/posterior.js'
import { DAY_MS } from '../model/time.js'
import { decide, urgencyOf } from '../recommend/decide.js'
import { carriesOpening, isLarge, OPENING } from '../recommend/opening.js'
import { estimatePoint, isDueForEstimate } from './assess.js'
import type { PointContext } from './context.js'
import { concludeProof } from './concludeProof.js'
import { concludeRecovery } from './concludeRecovery.js'
import { comesBeforeBias, concludeSignal } from './concludeSignal.js'
import { decisionContext } from './decisionContext.js'
import { isRefutedByCheck } from './foundWithin.js'
import { endBias } from './endBias.js'
import { openBias } from './openBias.js'
import type { PointState, UnitFold } from './pointState.js'
import { concludeSharedLine } from './sights/sharedLine.js'

/** Successive pieces of evidence over which an opening must hold. */
const HELD = 2
const TURNED_AWAY = 0.5
/** A question which unit is wrong is asked after this. */
const WHICH_UNIT_MS = DAY_MS
/** While proof of work is young it speaks for the unit; openings wait for it. */
const PROOF_FIRST_MS = 5 * DAY_MS

/** Of the laboratory, before enough other points have spoken. */
const NOTHING_SAID: LaboratoryView = { gain: 0, mean: 0, sd: 1 }

export interface Conclusion {
  /** Probability the point gives the laboratory, and the onset it looks at; set only where it was weighed now. */
  readonly laboratory: { readonly probability: number; readonly onsetMs: number } | undefined
}

/**
 * What follows at one point from everything observed up to `endMs`: estimates, cases, proof.
 * @param others grab residuals of all the plant's points up to now
 */
export function concludePoint(
  context: PointContext,
  state: PointState,
  endMs: number,
  others: () => readonly PointResiduals[],
): Conclusion {
  let laboratory: Conclusion['laboratory']
  if (isDueForEstimate(state, endMs)) {
    const isNew = state.fold.evidenceSinceEstimate
    if (isNew) state.fold.units.forEach((unit, i) => concludeRecovery(context, state, unit, i, endMs))
    const leftZeroMs = grabChartLeftZero(state)
    const all = leftZeroMs === undefined ? [] : others()
    const own = all.find(series => series.point === state.id)
    const onsetMs = leftZeroMs === undefined || own === undefined ? undefined : steepestSince(own, leftZeroMs, endMs)
    const posterior = estimatePoint(
      context,
      state,
      endMs,
      onsetMs === undefined || own === undefined ? null : viewAt(own, all, onsetMs, endMs),
    )
    if (onsetMs !== undefined) laboratory = { probability: massOf(posterior, 'laboratory'), onsetMs }
    if (laboratory === undefined || laboratory.probability < OPENING.known) {
      state.fold.units.forEach((unit, i) => {
        concludeBias(context, state, unit, i, { endMs, onsetMs, all, isNew })
      })
      if (!concludeSharedLine(context, state, posterior, isNew, endMs))
        concludeWhichUnit(context, state, posterior, endMs)
    }
  }
  state.fold.units.forEach((unit, i) => {
    concludeProof(context, state, unit, i, endMs)
    concludeSignal(context, state.fold, i, endMs)
  })
  return { laboratory }
}

/** Null where too few other points take grab samples for the laboratory ever to be told from the analyzer. */
function viewAt(
  own: PointResiduals,
  all: readonly PointResiduals[],
  onsetMs: number,
  endMs: number,
): LaboratoryView | null {
  if (speakingPoints(own.point, all, endMs).length < OTHER_POINTS) return null
  const others = all.flatMap(series => (series.point === own.point ? [] : (changeSince(series, onsetMs, endMs) ?? [])))
  return laboratoryView(own, others) ?? NOTHING_SAID
}

/** Where the leading grab chart of the point left zero; undefined while all stand at zero. */
function grabChartLeftZero(state: PointState): number | undefined {
  const onsets = state.fold.units.flatMap(unit => unitGrabOnset(unit) ?? [])
  return onsets.length > 0 ? Math.min(...onsets) : undefined
}

function unitGrabOnset(unit: UnitFold): number | null {
  const chart = unit.grab.chart
  return leadingSide(chart) === 'high' ? chart.highFromMs : chart.lowFromMs
}

function massOf(posterior: PointPosterior, who: 'laboratory'): number {
  return posterior.hypotheses.filter(one => one.who === who).reduce((sum, one) => sum + one.weight, 0)
}

/** What a look at a unit goes by. */
interface Look {
  readonly endMs: number
  readonly onsetMs: number | undefined
  readonly all: readonly PointResiduals[]
  /** Whether evidence came in since the last look; at midnight one looks without. */
  readonly isNew: boolean
}

function concludeBias(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  { endMs, onsetMs, all, isNew }: Look,
): void {
  const { estimate, opening } = unit
  const analyzer = context.analyzers[i]
  if (estimate === null || analyzer === undefined) return
  if (unit.case?.kind === 'bias') {
    reviseBias(context, state, unit, i, endMs, isNew)
    return
  }
  const witnessed = hasWitness(context, state, i, estimate)
  const holds = carriesOpening(estimate) && witnessed
  // One pair that says less does not undo what was held; evidence that turns away does, and so does a begin that is now
  // seen after the last witness: what was held rested on a sample that no longer speaks.
  if (holds && isNew) opening.held += 1
  else if (estimate.pHalf < TURNED_AWAY || !witnessed) opening.held = 0
  if (!holds) {
    opening.laboratoryWaitMs = null
    return
  }
  if (unit.gate.maintenanceSinceMs !== null || unit.gate.inWorkSinceMs !== null) return
  if (comesBeforeBias(unit)) return
  if (unit.proof !== null && endMs - unit.proof.workMs < PROOF_FIRST_MS) return
  const fromGrabs = onsetMs !== undefined && unitGrabOnset(unit) !== null
  if (fromGrabs && !othersHaveSpoken(state.id, all, onsetMs, endMs)) {
    opening.laboratoryWaitMs ??= endMs
    if (endMs - opening.laboratoryWaitMs < LABORATORY_WAIT_MS) return
  }
  if (opening.held < HELD || !signals(context, state, unit, i)) return
  if (isRefutedByCheck(context, state, unit, i, endMs)) return
  openBias(context, state, unit, i, endMs)
}

/**
 * Two units that differ accuse each other alike, and so do two sample lines; what an error usually looks like must not
 * decide which is sent for. To name one takes a grab sample or a verification since the change began.
 */
function hasWitness(context: PointContext, state: PointState, i: number, { onset }: UnitEstimate): boolean {
  const { analyzers } = context
  if (analyzers.length === 1 || othersOutvote(analyzers, i)) return true
  const sinceMs = onset?.estimateMs ?? 0
  return (
    state.pairs.some(pair => pair.use === 'used' && pair.atMs > sinceMs) ||
    state.fold.units.some(unit => unit.verifications.some(one => one.use === 'used' && one.atMs > sinceMs))
  )
}

/**
 * Whether a chart that this unit takes part in signals. While another unit of the point is in question their difference
 * has its explanation: then only the unit's own grab chart counts. An as found outside its limit is one as well.
 */
function signals(context: PointContext, state: PointState, unit: UnitFold, i: number): boolean {
  if (unit.grab.chart.signalSinceMs !== null) return true
  if (foundOutside(unit.verifications, unit.adjustedMs) !== undefined) return true
  if (state.fold.units.some(other => other !== unit && other.case?.kind === 'bias')) return false
  return context.lines.some(
    (line, k) => (line.against === 'pair' || line.unit === i) && state.fold.lines[k]?.chart.signalSinceMs != null,
  )
}

function reviseBias(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  endMs: number,
  isNew: boolean,
): void {
  const { estimate } = unit
  if (unit.case === null || estimate === null || unit.case.phase !== 'open') return
  // What came after work that is not done says nothing for the request: it waits for the work to be repeated.
  if (unit.case.notDone != null) return
  if (!signals(context, state, unit, i) && estimate.pHalf < 0.5 && estimate.pPassesIn7Days < 0.5) {
    endBias(unit, { atMs: endMs, how: 'withdrawn', reason: 'the evidence no longer bears it out' })
    return
  }
  const decision = decide(estimate, decisionContext(context, state, unit, i, endMs))
  const { case: open } = unit
  open.estimate = estimate
  open.urgency = urgencyOf(estimate, context.point)
  open.causes = decision.causes
  open.because = decision.because
  // A new action must rest on a cause that is known and hold twice: a request must not flap between two causes.
  const isKnown = decision.causes[0]?.cause !== 'undecided' || decision.action === 'inspect'
  if (decision.action === open.action) open.pendingAction = null
  else if (!isKnown || !isNew) return
  else if (decision.action === open.pendingAction) Object.assign(open, { action: decision.action, pendingAction: null })
  else open.pendingAction = decision.action
}

function concludeWhichUnit(context: PointContext, state: PointState, posterior: PointPosterior, endMs: number): void {
  const { fold } = state
  if (context.point.analyzers.length < 2) return
  const somebody = posterior.hypotheses
    .filter(one => typeof one.who === 'number' || typeof one.who === 'object' || one.who === 'all')
    .reduce((sum, one) => sum + one.weight, 0)
  const lineSignals = fold.lines.some(line => line.chart.signalSinceMs !== null)
  const decided = fold.units.some(unit => unit.case?.kind === 'bias' || unit.proof !== null || comesBeforeBias(unit))
  // A unit about to be named keeps the question from being asked; one that was asked stays until the unit is named.
  const almost = fold.pointCase === null && fold.units.some(unit => unit.opening.held > 0)
  const asks =
    lineSignals &&
    somebody >= OPENING.known &&
    !decided &&
    !almost &&
    fold.units.some(
      ({ estimate }, i) => estimate !== null && (!isLarge(estimate) || !hasWitness(context, state, i, estimate)),
    )
  if (!asks) {
    fold.whichUnitSinceMs = null
    if (fold.pointCase === null) return
    fold.pointCase = null
    fold.pointEnded ??= { atMs: endMs, how: 'withdrawn', reason: 'the units agree again, or the question is decided' }
    return
  }
  fold.whichUnitSinceMs ??= endMs
  if (fold.pointCase !== null || endMs - fold.whichUnitSinceMs < WHICH_UNIT_MS) return
  fold.pointEnded = null
  fold.pointCase = {
    target: { analyzer: null, point: context.point.id, laboratoryInstrument: null },
    kind: 'which_unit',
    phase: 'open',
    openedMs: endMs,
    action: 'take_grab',
    causes: [{ cause: 'undecided', probability: 1 }],
    because: ['the units differ and no grab, work or diagnostic since then says which is wrong'],
    urgency: 'routine',
    estimate: null,
    finding: null,
    sinceMs: fold.whichUnitSinceMs,
    pendingAction: null,
  }
}
