import type { PlantEvent, ShiftSummaryData } from '../model/events.js'
import { addCount, addCounts } from '../model/exclusionCounts.js'
import type { Plant } from '../model/plant.js'
import { roundTo } from '../model/rounding.js'
import { formatInstant, HOUR_MS, sayAge } from '../model/time.js'
import { nextShiftStart, shiftStart } from '../model/timeZone.js'
import type { Exclusion, ExclusionCounts } from '../model/vocabulary.js'
import { FINDING_WORDS } from '../recommend/summary.js'
import { awaitingProof } from './awaitingProof.js'
import { emit } from './emit.js'
import { findingData } from './findingData.js'
import type { PlantState, ToldFinding } from './plantState.js'

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
  return [emit(state, 'shift.summary', state.id, nowMs, summaryOf(state, plant, fromMs, startMs, nowMs))]
}

function summaryOf(state: PlantState, plant: Plant, fromMs: number, toMs: number, nowMs: number): ShiftSummaryData {
  const cases = [...state.published.cases.values()].sort((a, b) => (a.target < b.target ? -1 : 1))
  const open = cases.filter(one => one.phase === 'open' && one.answer !== 'rejected')
  const waiting = awaitingProof(state, plant)
  const findings = [...state.published.findings]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, one]) => ({ one, subject: key.slice(0, key.indexOf(` ${one.finding}`)) }))
  const notAssessed = [...state.published.statuses]
    .filter(([, status]) => status.data.assessment === 'not_assessed')
    .map(([id]) => id)
    .sort()
  return {
    summary: `${String(open.length)} open, ${String(waiting.length)} awaiting proof, ${String(findings.length)} findings, ${String(notAssessed.length)} analyzers not assessed${longest(findings, nowMs)}.`,
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
    awaitingProof: waiting,
    findings: findings.map(({ one, subject }) => ({
      ...(one.analyzer === null ? {} : { analyzer: one.analyzer }),
      ...(one.point === null ? {} : { point: one.point }),
      finding: one.finding,
      since: formatInstant(one.sinceMs),
      hours: roundTo((nowMs - one.sinceMs) / HOUR_MS, 1),
      summary: findingData(state, plant, subject, one, 'continues', nowMs).summary,
    })),
    notAssessed,
    excluded: excludedInShift(state),
  }
}

/** The finding that has lasted longest, so that nobody gets used to it. */
function longest(findings: readonly { readonly one: ToldFinding; readonly subject: string }[], nowMs: number): string {
  const [first, ...others] = findings
  if (first === undefined) return ''
  const { one, subject } = others.reduce((a, b) => (b.one.sinceMs < a.one.sinceMs ? b : a), first)
  return `; longest: ${subject}, ${FINDING_WORDS[one.finding] ?? one.finding}, ${sayAge(one.sinceMs, nowMs)}`
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
