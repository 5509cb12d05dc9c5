import type { RecommendationData } from '../model/events.js'
import { NO_SHIFT } from '../diagnose/laboratory.js'
import type { Plant } from '../model/plant.js'
import { DAY_MS, formatInstant, HOUR_MS } from '../model/time.js'
import { type Case, leadingCause, targetKey } from '../recommend/case.js'
import { procedureFor } from '../recommend/procedure.js'
import { countOf } from '../recommend/proof.js'
import { withStandardsInForce } from '../recommend/standards.js'
import {
  biasSentence,
  laboratorySentence,
  notDoneSentence,
  proofSentence,
  signalSentence,
  whichUnitSentence,
} from '../recommend/summary.js'
import { biasData, forecastData, modelData, onsetData } from './biasData.js'
import { pointContext } from './context.js'
import { evidenceData } from './evidenceData.js'
import { lateSince } from './lateFacts.js'
import { findingDetail } from './findingDetail.js'
import type { PlantState, PublishedCase } from './plantState.js'
import { uncoveredSign } from './uncovered.js'
import { type Place, witnessesOf } from './witnesses.js'
import { laboratoryReasons } from './sights/laboratoryCheck.js'
import { sharedLineSentence } from './sights/sharedLine.js'

const RESPOND_WITHIN_MS = { now: 4 * HOUR_MS, soon: 3 * DAY_MS, routine: 14 * DAY_MS } as const
const EVIDENCE_MS = 56 * DAY_MS

type Meta = Pick<PublishedCase, 'id' | 'revision' | 'openedMs' | 'urgencySinceMs' | 'knownMs' | 'answer'>

/** The body of a recommendation event at plant time `nowMs`. */
export function recommendationData(
  state: PlantState,
  plant: Plant,
  open: Case,
  meta: Meta,
  nowMs: number,
  notify: RecommendationData['notify'],
  reason?: string,
): RecommendationData {
  const place = placeOf(state, plant, open)
  const { estimate } = open
  const analyzer = open.target.analyzer === null ? undefined : plant.analyzers.get(open.target.analyzer)
  const known = place === undefined || place.unit < 0 ? undefined : place.point.fold.units[place.unit]?.work.standards
  const inForce =
    known === undefined || analyzer === undefined ? plant : withStandardsInForce(plant, analyzer.id, known)
  const procedure = procedureFor(open.action, analyzer, inForce, estimate?.levelNtu ?? 0, leadingCause(open.causes))
  const pointId = place?.context.point.id
  return {
    summary: summaryOf(state, open, place, procedure.zeroMethod),
    notify,
    recommendation: meta.id,
    revision: meta.revision,
    target: {
      ...(open.target.analyzer === null ? {} : { analyzer: open.target.analyzer }),
      ...(open.target.point === null ? {} : { point: open.target.point }),
      ...(open.target.laboratoryInstrument === null ? {} : { laboratoryInstrument: open.target.laboratoryInstrument }),
    },
    ...(open.target.analyzer === null ? {} : { analyzer: open.target.analyzer }),
    ...(pointId === undefined ? {} : { point: pointId }),
    phase: open.phase,
    answer: meta.answer,
    openedAt: formatInstant(meta.openedMs),
    known: formatInstant(meta.knownMs),
    urgency: open.urgency,
    respondBy: formatInstant(respondByMs(open, meta.urgencySinceMs)),
    action: open.action,
    procedure,
    ...(estimate === null || place === undefined
      ? {}
      : {
          bias: biasData(estimate, place.context.point),
          ...(estimate.model === null ? {} : { model: modelData(estimate.model) }),
        }),
    cause: {
      ranked: open.causes.map(one => ({ ...one })),
      because: [
        ...open.because,
        ...lateReasons(place, plant, open),
        ...(open.kind === 'laboratory' ? laboratoryReasons(state, plant) : []),
      ],
    },
    ...(estimate?.onset == null ? {} : { onset: onsetData(estimate.onset) }),
    forecast: estimate === null ? null : forecastData(estimate.forecast),
    evidence: place === undefined ? [] : evidenceOf(place, open),
    reproduce: {
      registerHash: state.register?.hash ?? '',
      from: formatInstant(Math.max(state.startedMs, nowMs - EVIDENCE_MS)),
      to: formatInstant(nowMs),
    },
    ...(reason === undefined ? {} : { reason }),
  }
}

/** Before the tolerance is reached, where that comes sooner, but with the time that the utmost urgency leaves. */
function respondByMs(open: Case, urgencySinceMs: number): number {
  const latestMs = urgencySinceMs + RESPOND_WITHIN_MS[open.urgency]
  const toleranceMs = open.estimate?.forecast?.toleranceAtMs ?? latestMs
  return Math.max(urgencySinceMs + RESPOND_WITHIN_MS.now, Math.min(latestMs, toleranceMs))
}

function placeOf(state: PlantState, plant: Plant, open: Case): Place | undefined {
  const pointId =
    open.target.point ?? (open.target.analyzer === null ? undefined : plant.analyzers.get(open.target.analyzer)?.point)
  const point = pointId === undefined ? undefined : plant.points.get(pointId)
  const pointState = pointId === undefined ? undefined : state.points.get(pointId)
  if (point === undefined || pointState === undefined) return undefined
  return {
    context: pointContext(plant, point, state.laboratory.intervals),
    point: pointState,
    unit: point.analyzers.indexOf(open.target.analyzer ?? ''),
  }
}

function evidenceOf(place: Place, open: Case): RecommendationData['evidence'] {
  if (open.kind === 'which_unit') return evidenceData(place.context, place.point, 0)
  return place.unit < 0 ? [] : evidenceData(place.context, place.point, place.unit)
}

function summaryOf(
  state: PlantState,
  open: Case,
  place: Place | undefined,
  zeroMethod: 'zero_water' | 'source_off' | undefined,
): string {
  const name = targetKey(open.target)
  if (open.kind === 'laboratory') {
    const interval = state.laboratory.intervals.at(-1)
    return laboratorySentence(
      open.target.laboratoryInstrument ?? 'all',
      interval?.likely ?? NO_SHIFT,
      interval?.fromMs ?? open.sinceMs,
      interval?.points ?? [],
    )
  }
  if (open.kind === 'sample_line' && open.target.point !== null)
    return sharedLineSentence(open.target.point, open.because)
  if (open.kind === 'which_unit' && place !== undefined) {
    const newest = place.point.differences.at(-1)
    const deviations = (newest?.deviationsNtu ?? []).filter(value => value !== null)
    const spread = deviations.length > 0 ? Math.max(...deviations) - Math.min(...deviations) : 0
    return whichUnitSentence(place.context.point.id, place.context.point.analyzers, spread, newest?.toleranceNtu ?? 0)
  }
  if (open.finding !== null && place !== undefined) {
    const { context, point, unit } = place
    const found = { context, state: point, unit, sinceMs: open.sinceMs, endMs: state.workedMs }
    return signalSentence(name, open.finding, findingDetail(open.finding, found).what, open.action)
  }
  const own = place?.point.fold.units[place.unit]
  const proof = own?.proof ?? null
  if (open.phase === 'awaiting_proof' && proof !== null) {
    const { action, workMs } = proof
    return proofSentence({ analyzer: name, action, workMs, pairs: countOf(proof), estimate: open.estimate })
  }
  if (open.notDone != null) return notDoneSentence(name, open.notDone)
  if (open.estimate === null) return `${name}: ${open.action.replaceAll('_', ' ')}.`
  const witnesses = place === undefined ? { words: [], isBound: false } : witnessesOf(place, open)
  return biasSentence({
    analyzer: name,
    estimate: open.estimate,
    causes: open.causes,
    action: open.action,
    witnesses: witnesses.words,
    isBound: witnesses.isBound,
    zeroMethod,
    adjustedMs: own?.adjustedMs ?? 0,
    uncoveredMs: own === undefined ? undefined : uncoveredSign(own)?.cleanedMs,
  })
}

/** What counts here and became known long after its own time. */
function lateReasons(place: Place | undefined, plant: Plant, open: Case): string[] {
  if (place === undefined) return []
  return lateSince(place.point.facts, open.estimate?.onset?.estimateMs ?? open.sinceMs, plant.latenessMs)
}
