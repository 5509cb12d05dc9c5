import type { PlantEvent, ShiftSummaryData } from '../model/events.js'
import { addCount, addCounts } from '../model/exclusionCounts.js'
import type { Plant } from '../model/plant.js'
import { formatInstant, HOUR_MS } from '../model/time.js'
import { nextShiftStart, shiftStart } from '../model/timeZone.js'
import type { Exclusion, ExclusionCounts } from '../model/vocabulary.js'
import { emit } from './emit.js'
import type { PlantState } from './plantState.js'

/** At the change of shift: everything open, awaiting proof, found and not assessed, in one event. */
export function publishShift(state: PlantState, plant: Plant, nowMs: number): PlantEvent[] {
  if (nowMs < state.published.nextShiftMs) return []
  const startMs = shiftStart(plant.timeZone, plant.shiftStartsMin, nowMs)
  state.published.nextShiftMs = nextShiftStart(plant.timeZone, plant.shiftStartsMin, nowMs)
  if (startMs <= state.published.shiftMs) return []
  const fromMs = state.published.shiftMs
  state.published.shiftMs = startMs
  state.published.soonInShift = 0
  if (fromMs === 0 || nowMs - startMs > HOUR_MS) return []
  return [emit(state, 'shift.summary', state.id, nowMs, summaryOf(state, fromMs, startMs))]
}

function summaryOf(state: PlantState, fromMs: number, toMs: number): ShiftSummaryData {
  const cases = [...state.published.cases.values()].sort((a, b) => (a.target < b.target ? -1 : 1))
  const open = cases.filter(one => one.phase === 'open' && one.answer !== 'rejected')
  const waiting = cases.filter(one => one.phase === 'awaiting_proof')
  const findings = [...state.published.findings.entries()].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, one]) => one)
  const notAssessed = [...state.published.statuses]
    .filter(([, status]) => status.data.assessment === 'not_assessed')
    .map(([id]) => id)
    .sort()
  return {
    summary: `${String(open.length)} open, ${String(waiting.length)} awaiting proof, ${String(findings.length)} findings, ${String(notAssessed.length)} analyzers not assessed.`,
    notify: 'shift_summary',
    from: formatInstant(fromMs),
    to: formatInstant(toMs),
    open: open.map(({ id, data }) => ({
      recommendation: id,
      target: data.target,
      urgency: data.urgency,
      action: data.action,
      summary: data.summary,
    })),
    awaitingProof: waiting.map(({ data }) => ({ target: data.target, summary: data.summary })),
    findings: findings.map(({ finding, sinceMs, analyzer, point }) => ({
      ...(analyzer === null ? {} : { analyzer }),
      ...(point === null ? {} : { point }),
      finding,
      since: formatInstant(sinceMs),
    })),
    notAssessed,
    excluded: excludedInShift(state),
  }
}

/** What hangs on the way a message came, and not on what it says, stays out of events: a repeat changes none. */
const BY_ARRIVAL: readonly Exclusion[] = ['repeat', 'late', 'too_old', 'from_future']

/** Left out since the last summary. */
function excludedInShift(state: PlantState): ExclusionCounts {
  const total = excludedInAll(state)
  const before = state.published.excludedBefore
  const counts: ExclusionCounts = {}
  for (const [reason, n] of Object.entries(total) as [Exclusion, number][]) {
    if (!BY_ARRIVAL.includes(reason)) addCount(counts, reason, n - (before[reason] ?? 0))
  }
  state.published.excludedBefore = total
  return counts
}

/** Readings, blocks and pairs left out since the beginning, by reason. */
export function excludedInAll(state: PlantState): ExclusionCounts {
  const total: ExclusionCounts = {}
  for (const point of state.points.values()) {
    addCounts(total, point.excluded)
    for (const { excluded } of [...point.analyzers, ...point.fold.units]) addCounts(total, excluded)
    for (const { pairsExcluded } of point.fold.units) addCounts(total, pairsExcluded)
  }
  return total
}
