import { comparePairUnit, isTooUncertain, SAME_BOTTLE_MS } from '../compare/grab.js'
import { learnOffset } from '../compare/laboratoryOffset.js'
import type { PairUnit } from '../compare/pair.js'
import { linesOf } from '../compare/sampleLines.js'
import { chartGrabPair, effectiveU } from '../detect/grabChart.js'
import { addCount } from '../model/exclusionCounts.js'
import type { Grab } from '../model/messages.js'
import { kept } from '../model/rounding.js'
import { toWholeUnit } from '../model/units.js'
import type { Exclusion } from '../model/vocabulary.js'
import type { PointContext } from './context.js'
import { eitherTime } from './eitherTime.js'
import { learnFrom, noteMethod, otherMethod, relateAt } from './methodGrab.js'
import { noteMoving } from './movingGrab.js'
import { noteUnclearTime } from './noteUnclearTime.js'
import { lookAtTimes, planFor } from './plannedSampling.js'
import type { LoggedPair, PointState } from './pointState.js'
import { pairKey } from './sights/exchangedBottles.js'
import { residualOf } from './residuals.js'
import { bearsOut, isSuspect, noteSuspect } from './suspectGrab.js'
import { noteUnrecordedWork } from './unrecordedWork.js'
import { referenceLevel } from './sights/longShift.js'

const KEPT_PAIRS = 256

/** Pairs a grab sample with every usable unit and charts the pair, or says why not. */
export function takeGrab(
  context: PointContext,
  state: PointState,
  grab: Grab,
  inService: boolean,
  endMs: number,
): void {
  const { fold } = state
  const method = otherMethod(context, grab)
  const related = method === undefined ? undefined : relateAt(context, fold, grab)
  const sides = fold.units.map((_, i) =>
    eitherTime(related?.grab ?? grab, endMs, context.analyzers, (one, untilMs) =>
      pairUnit(context, state, one, i, untilMs, related?.uNtu),
    ),
  )
  const reasons = sides.filter(side => typeof side === 'string')
  const pair: LoggedPair = {
    dueMs: endMs,
    atMs: grab.sampledMs,
    grabNtu: kept(related?.grab.value ?? toWholeUnit(grab.value, grab.unit)),
    qualifier: grab.qualifier ?? null,
    sampleId: grab.sampleId ?? null,
    laboratoryInstrument: grab.laboratoryInstrument ?? null,
    use: 'used',
    ...(related === undefined ? {} : { byMethod: related.byMethod }),
    units: sides.map(side => (typeof side === 'string' ? null : side)),
  }
  state.pairs.push(pair)
  if (state.pairs.length > KEPT_PAIRS) state.pairs.shift()
  if (method !== undefined) noteMethod(context, fold, grab)
  const unrelated = method !== undefined && related === undefined ? 'learning_method' : undefined
  const against = reasonAgainst(context, state, grab, pair, reasons, inService) ?? unrelated
  if (against !== undefined) {
    leaveOut(state, pair, against)
    if (against === 'time_unclear') noteUnclearTime(context, state, grab, endMs)
    if (against === 'learning_method') {
      learnFrom(fold, grab, pair)
      fold.lastGrabMs = grab.sampledMs
    }
    if (against === 'laboratory_interval') fold.evidenceSinceEstimate = true
    return
  }
  sides.forEach((side, i) => {
    const unit = fold.units[i]
    if (typeof side === 'string' && unit !== undefined) addCount(unit.pairsExcluded, side, 1)
  })
  fold.lastGrabMs = grab.sampledMs
  const waiting = state.pairs.find(one => one.atMs === fold.suspectMs && one.use === 'suspect')
  fold.suspectMs = null
  if (waiting !== undefined) {
    if (bearsOut(context, state, waiting, pair)) {
      waiting.use = 'used'
      chartPair(context, state, waiting)
      chartPair(context, state, pair)
      return
    }
    leaveOut(state, waiting, 'suspect_grab')
    noteSuspect(context, state, waiting, endMs, pair)
  }
  if (isSuspect(context, state, pair)) {
    pair.use = 'suspect'
    fold.suspectMs = pair.atMs
    // Units on one sample line are one voice: they do not outvote a sample.
    if (linesOf(context.analyzers.filter((_, i) => pair.units[i] != null)) >= 2)
      noteSuspect(context, state, pair, endMs)
    noteUnrecordedWork(context, state, pair, i => {
      const unit = pair.units[i]
      return unit == null ? 0 : residualOf(context, state, pair, unit)
    })
    return
  }
  chartPair(context, state, pair)
}

/** A unit's side of the pair, or why it has none. */
function pairUnit(
  context: PointContext,
  state: PointState,
  grab: Grab,
  i: number,
  endMs: number,
  relationUNtu = 0,
): PairUnit | Exclusion {
  const unit = state.fold.units[i]
  const analyzer = context.analyzers[i]
  const log = state.analyzers[i]?.log
  if (unit === undefined || analyzer === undefined || log === undefined) return 'no_usable_reading'
  const usable = (end: number): boolean => unit.usableEnds.includes(end)
  const plan = planFor(context.point.grab, state.fold.plannedTimes, grab.sampledMs)
  const compared = comparePairUnit(grab, plan, analyzer, log, usable, endMs)
  if (compared === undefined) return 'no_usable_reading'
  if (plan === context.point.grab) noteMoving(context, state, grab, compared, endMs)
  if (isTooUncertain(grab, plan, compared)) return 'moving_process'
  return relationUNtu === 0
    ? compared
    : { ...compared, uNtu: kept(Math.sqrt(compared.uNtu * compared.uNtu + relationUNtu * relationUNtu)) }
}

function reasonAgainst(
  context: PointContext,
  state: PointState,
  grab: Grab,
  pair: LoggedPair,
  against: readonly Exclusion[],
  inService: boolean,
): Exclusion | undefined {
  const { fold } = state
  if (fold.lastGrabMs !== null && Math.abs(grab.sampledMs - fold.lastGrabMs) < SAME_BOTTLE_MS) return 'second_bottle'
  if (!inService && fold.units.every(unit => unit.usableEnds.at(-1) !== pair.dueMs)) return 'not_in_service'
  if (against.includes('time_unclear')) return 'time_unclear'
  if (pair.units.every(unit => unit === null))
    return against.includes('moving_process') ? 'moving_process' : 'no_usable_reading'
  if (context.sights.exchanged.includes(pairKey(pair))) return 'exchanged_bottle'
  if (referenceLevel(context.laboratoryIntervals, state.id, pair.atMs) === null) return 'laboratory_interval'
  return undefined
}

function leaveOut(state: PointState, pair: LoggedPair, reason: Exclusion): void {
  pair.use = reason
  for (const unit of state.fold.units) addCount(unit.pairsExcluded, reason, 1)
}

function chartPair(context: PointContext, state: PointState, pair: LoggedPair): void {
  const { units } = state.fold
  const residuals = pair.units.map(paired => (paired === null ? 0 : residualOf(context, state, pair, paired)))
  pair.units.forEach((paired, i) => {
    const unit = units[i]
    if (paired === null || unit === undefined) return
    unit.lastPairMs = pair.atMs
    const residual = residuals[i] ?? 0
    if (pair.qualifier !== null && residual === 0) return
    const declaredU = paired.uNtu / paired.toleranceNtu
    chartGrabPair(unit.grab, context.plant, context.point.grab.perDay, context.sides, pair.atMs, residual, declaredU)
    paired.high = kept(unit.grab.chart.high)
    paired.low = kept(unit.grab.chart.low)
    paired.limit = unit.grab.chart.limit
    // What a relation was learnt from after work cannot prove the work.
    if (unit.proof !== null && pair.atMs > unit.proof.workMs && pair.byMethod?.isDeclared !== false) {
      unit.proof.residuals.push(kept(residual))
      unit.proof.us.push(kept(effectiveU(unit.grab, declaredU)))
    }
  })
  learnOffsets(context, state, pair)
  lookAtTimes(context, state, pair)
  state.fold.evidenceSinceEstimate = true
}

function learnOffsets(context: PointContext, state: PointState, pair: LoggedPair): void {
  const { units } = state.fold
  if (
    pair.qualifier !== null ||
    pair.byMethod !== undefined ||
    referenceLevel(context.laboratoryIntervals, state.id, pair.atMs) !== 0 ||
    units.some(unit => unit.grab.chart.signalSinceMs !== null)
  )
    return
  pair.units.forEach((paired, i) => {
    const unit = units[i]
    if (paired !== null && unit !== undefined)
      learnOffset(unit.offset, context.point.grab, paired.ntu - pair.grabNtu, paired.uNtu, paired.toleranceNtu)
  })
}
