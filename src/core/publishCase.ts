import type { PlantEvent, RecommendationData } from '../model/events.js'
import { recommendationId } from '../model/identity.js'
import type { Plant } from '../model/plant.js'
import { DAY_MS } from '../model/time.js'
import { CARRYING_LINES, type Urgency } from '../model/vocabulary.js'
import type { Case } from '../recommend/case.js'
import { andLate, type Change, reasonFor } from './changeReason.js'
import { close } from './closeCase.js'
import { emit, next } from './emit.js'
import { type LateFacts, lateFactsAt } from './lateFacts.js'
import type { PlantState, PublishedCase } from './plantState.js'
import type { CaseEnd } from './pointState.js'
import { recommendationData } from './recommendationData.js'
import { carryingLines, countOutcome } from './scorecard.js'

const RANK: Record<Urgency, number> = { routine: 0, soon: 1, now: 2 }
/** `soon` openings beyond this many in a shift wait for its summary. */
const SOON_AT_ONCE = 3
/** A change of bias by this many tolerances is worth a revision; one that breaks a rejection must be larger. */
const REVISION_STEP = 0.3
const REJECTION_STEP = 0.5
/** How long the record of work that somebody was asked for is waited for. */
const RECORD_AWAITED_MS = 2 * DAY_MS

/**
 * Compares a case of the fold with what was published about its target: opened, revised, escalated, reopened, closed
 * or withdrawn. One open recommendation a target, revised and not repeated.
 */
export function publishCase(
  state: PlantState,
  plant: Plant,
  target: string,
  open: Case | null,
  ended: CaseEnd | null,
  nowMs: number,
): PlantEvent[] {
  const known = state.published.cases.get(target)
  if (open === null && known === undefined) return []
  const late = lateAbout(state, plant, target, nowMs)
  if (open === null) return known === undefined ? [] : [close(state, plant, known, ended, nowMs, late)]
  if (known === undefined) return [openNew(state, plant, target, open, nowMs, late)]
  if (known.kind !== open.kind) {
    // An answer to one question is none to another.
    const ended = { atMs: nowMs, how: 'closed', reason: 'superseded by another request about it' } as const
    return [close(state, plant, known, ended, nowMs, late), openNew(state, plant, target, open, nowMs, late)]
  }
  return update(state, plant, known, open, nowMs, late)
}

/** Facts of the target's point that came in late with the block just worked through. */
function lateAbout(state: PlantState, plant: Plant, target: string, nowMs: number): LateFacts | undefined {
  const pointId = target.startsWith('point:') ? target.slice('point:'.length) : plant.analyzers.get(target)?.point
  const facts = state.points.get(pointId ?? '')?.facts
  return facts === undefined ? undefined : lateFactsAt(facts, nowMs - plant.latenessMs, plant.latenessMs)
}

function openNew(
  state: PlantState,
  plant: Plant,
  target: string,
  open: Case,
  nowMs: number,
  late: LateFacts | undefined,
): PlantEvent {
  const told = {
    id: recommendationId(state.id, target, next(state, `recommendation ${target}`)),
    target,
    kind: open.kind,
    revision: 1,
    openedMs: nowMs,
    knownMs: nowMs,
    told: toldOf(open),
    urgency: open.urgency,
    urgencySinceMs: nowMs,
    phase: open.phase,
    answer: 'none' as const,
    answerUntilMs: null,
    answerReason: null,
    answeredAt: null,
    carriedBy: [],
  }
  const known: PublishedCase = {
    ...told,
    data: recommendationData(
      state,
      plant,
      open,
      told,
      nowMs,
      notifyFor(state, open, 'recommendation.opened'),
      late?.reason,
    ),
  }
  known.carriedBy = carryingLines(known.data)
  state.published.cases.set(target, known)
  return emit(state, 'recommendation.opened', known.target, nowMs, known.data)
}

function update(
  state: PlantState,
  plant: Plant,
  known: PublishedCase,
  open: Case,
  nowMs: number,
  late: LateFacts | undefined,
): PlantEvent[] {
  const type = changeType(known, open, late, nowMs)
  const deferralEnds = known.answer === 'deferred' && known.answerUntilMs !== null && nowMs >= known.answerUntilMs
  if (known.answer === 'rejected' && !breaksRejection(state, plant, known, open, nowMs)) return []
  if (known.answer === 'deferred' && !deferralEnds && type === 'recommendation.revised' && known.phase === open.phase)
    return []
  if (type === undefined && !deferralEnds && known.answer !== 'rejected') return []
  const reason = andLate(reasonFor(known, open, type, deferralEnds), late)
  const reopened = known.answer === 'rejected'
  if (deferralEnds || reopened || (type === 'recommendation.escalated' && known.answer === 'deferred'))
    Object.assign(known, { answer: 'none', answerUntilMs: null, answerReason: null, answeredAt: null })
  if (open.urgency !== known.urgency) known.urgencySinceMs = nowMs
  Object.assign(known, {
    revision: known.revision + 1,
    knownMs: nowMs,
    told: toldOf(open, known.told),
    urgency: open.urgency,
    phase: open.phase,
  })
  if (type === 'recommendation.reopened' && open.notDone == null) countOutcome(state, known, 'not_confirmed')
  known.data = recommendationData(state, plant, open, known, nowMs, notifyFor(state, open, type), reason)
  if (open.phase === 'open') known.carriedBy = carryingLines(known.data, known.carriedBy)
  const told = reopened ? 'recommendation.reopened' : (type ?? 'recommendation.revised')
  return [emit(state, told, known.target, nowMs, known.data)]
}

function changeType(known: PublishedCase, open: Case, late: LateFacts | undefined, nowMs: number): Change {
  if (known.phase === 'awaiting_proof' && open.phase === 'open') return 'recommendation.reopened'
  if (known.phase === 'open' && open.phase === 'awaiting_proof') return 'recommendation.revised'
  if (RANK[open.urgency] > RANK[known.urgency]) return 'recommendation.escalated'
  if (late?.isDayLate === true) return 'recommendation.revised'
  // Until somebody says what was done, samples from before and after make up an error that never was.
  if (open.recordAskedMs !== undefined && nowMs - open.recordAskedMs < RECORD_AWAITED_MS) return undefined
  return isWorthARevision(known.told, open) ? 'recommendation.revised' : undefined
}

/** A cause once decided stays told while the evidence wavers below certainty. */
function toldOf(open: Case, before?: PublishedCase['told']): PublishedCase['told'] {
  const first = open.causes[0]?.cause
  return {
    action: open.action,
    cause: first === 'undecided' ? (before?.cause ?? null) : (first ?? null),
    ofTolerance: sizeOf(open),
    passed: before?.passed === true || (open.estimate?.pOutside ?? 0) >= 0.5,
    notDoneMs: open.notDone?.atMs ?? null,
  }
}

function isWorthARevision(told: PublishedCase['told'], open: Case): boolean {
  const now = toldOf(open, told)
  if (now.action !== told.action || now.cause !== told.cause || now.passed !== told.passed) return true
  if (now.notDoneMs !== told.notDoneMs) return true
  return Math.abs(now.ofTolerance - told.ofTolerance) >= REVISION_STEP
}

function sizeOf(open: Case): number {
  return open.estimate === null ? 0 : open.estimate.biasNtu.value / open.estimate.toleranceNtu
}

function breaksRejection(state: PlantState, plant: Plant, known: PublishedCase, open: Case, nowMs: number): boolean {
  if (known.answerUntilMs !== null && nowMs >= known.answerUntilMs) return true
  const before = known.answeredAt
  if (before === null || open.estimate === null) return false
  return (
    Math.abs(sizeOf(open)) >= Math.abs(before.ofTolerance) + REJECTION_STEP ||
    linesOf(recommendationData(state, plant, open, known, nowMs, 'shift_summary')) !== before.lines
  )
}

export function linesOf(data: RecommendationData): string {
  return data.evidence.flatMap(({ line, n }) => (CARRYING_LINES.includes(line) && n > 0 ? [line] : [])).join(',')
}

/** What asks somebody to act may come at once; a record that came in, or numbers that moved, wait for the summary. */
function notifyFor(
  state: PlantState,
  open: Case,
  type: Change | 'recommendation.opened',
): RecommendationData['notify'] {
  const asks = open.phase === 'open' && type !== 'recommendation.revised' && type !== undefined
  if (!asks || open.urgency === 'routine' || isToldByPoint(state, open)) return 'shift_summary'
  if (open.urgency === 'now') return 'at_once'
  state.published.soonInShift += 1
  return state.published.soonInShift <= SOON_AT_ONCE ? 'at_once' : 'shift_summary'
}

/** Where no usable unit is left, that was told at once, with the quickest to restore: its units wait for the summary. */
function isToldByPoint(state: PlantState, { kind, target }: Case): boolean {
  const point = state.register?.plant.analyzers.get(target.analyzer ?? '')?.point ?? ''
  return (kind === 'signal' || kind === 'sample_line') && state.published.findings.has(`${point} no_usable_unit`)
}
