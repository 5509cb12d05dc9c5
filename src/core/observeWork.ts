import { newOffsetLearner, restartOffset } from '../compare/laboratoryOffset.js'
import { restartGrabChart } from '../detect/grabChart.js'
import { restartRedundantChart } from '../detect/redundantChart.js'
import type { Work, WorkAction } from '../model/messages.js'
import { DAY_MS, formatInstant, HOUR_MS, sayInstant } from '../model/time.js'
import { type Contradiction, contradictionsOf } from '../recommend/contradictions.js'
import { WORK_WORDS } from '../recommend/summary.js'
import { visitSentences } from '../recommend/visit.js'
import { median } from '../statistics/robust.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'

/** Work that changes what an analyzer reads for good: what was before it tells nothing of what is after. */
const ADJUSTING: ReadonlySet<WorkAction> = new Set([
  'zero',
  'span',
  'calibrated_primary',
  'light_source_replaced',
  'part_replaced',
  'replaced',
])
const KEPT_WORKS = 20
const LEAST_RECENT = 3

/** Records within this of each other are one visit. */
const VISIT_MS = 4 * HOUR_MS

/** Takes one work record into the fold: charts restart, proof begins, contradictions are noted. */
export function takeWork(context: PointContext, state: PointState, unit: UnitFold, i: number, work: Work): void {
  listWork(unit, work)
  const analyzer = context.analyzers[i]
  if (analyzer === undefined) return
  const contradictions = contradictionsOf(work, analyzer, context.plant)
  for (const contradiction of contradictions) noteContradiction(context, state, analyzer.id, work, contradiction)
  if (work.accepted === false || !(ADJUSTING.has(work.action) || work.action === 'cleaned')) return
  const inQuestion = unit.case?.kind === 'bias'
  beginProof(unit, work, contradictions, visitSentences(work, analyzer))
  if (work.action === 'cleaned') {
    unit.cleaningsMs = [...unit.cleaningsMs.filter(atMs => atMs > work.atMs - 70 * DAY_MS), work.atMs]
    // A routine cleaning of an analyzer that nobody doubts must not wipe out what its charts have gathered.
    if (inQuestion) restartCharts(context, state, unit, i)
    return
  }
  restartCharts(context, state, unit, i)
  unit.adjustedMs = work.atMs
  restartOffset(unit.offset)
  if (work.action === 'replaced') replaceAnalyzer(context, unit, work)
}

/** Work from before the reach of a rebuild: it stands in the record and tells what evidence is too old, no more. */
export function noteOldWork(unit: UnitFold, work: Work): void {
  listWork(unit, work)
  if (work.accepted === false) return
  if (ADJUSTING.has(work.action)) unit.adjustedMs = Math.max(unit.adjustedMs, work.atMs)
  else if (work.action === 'cleaned') unit.cleaningsMs = [...unit.cleaningsMs, work.atMs].sort((a, b) => a - b)
}

function listWork(unit: UnitFold, work: Work): void {
  const entry = { atMs: work.atMs, action: work.action, id: work.id ?? null }
  unit.works = [...unit.works, entry].sort((a, b) => a.atMs - b.atMs).slice(-KEPT_WORKS)
}

/** Lines of the other units go on from where they are; only what this one was in begins anew. */
function restartCharts(context: PointContext, state: PointState, unit: UnitFold, i: number): void {
  restartGrabChart(unit.grab)
  unit.opening = { held: 0, laboratoryWaitMs: null }
  context.lines.forEach((named, k) => {
    const line = state.fold.lines[k]
    if (line === undefined) return
    if (named.against === 'pair' || named.unit === i) restartRedundantChart(line)
    else line.last = null
  })
}

function beginProof(unit: UnitFold, work: Work, contradictions: readonly Contradiction[], visit: string[]): void {
  const { estimate, proof } = unit
  const sameVisit = proof !== null && work.atMs - proof.workMs < VISIT_MS ? proof : null
  const recent = unit.grab.recentResiduals
  unit.proof = {
    workMs: work.atMs,
    // The adjustment is what a visit is judged by, whatever was cleaned with it.
    action: sameVisit !== null && work.action === 'cleaned' ? sameVisit.action : work.action,
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
    contradictions: [...(sameVisit?.contradictions ?? []), ...contradictions.map(one => one.text)],
    visit: [...(sameVisit?.visit ?? []), ...visit],
    residuals: [],
    us: [],
  }
  if (unit.case?.kind === 'bias') unit.case.phase = 'awaiting_proof'
}

/** Another instrument under the same tag: nothing learnt of the old one holds for it. */
function replaceAnalyzer(context: PointContext, unit: UnitFold, work: Work): void {
  Object.assign(unit.offset, newOffsetLearner(context.point.grab))
  unit.proof = null
  unit.estimate = null
  unit.failed = []
  unit.zeroWaterSuspect = false
  if (unit.case === null) return
  unit.case = null
  unit.ended = {
    atMs: work.atMs,
    how: 'closed',
    reason: `the analyzer was replaced on ${sayInstant(work.atMs)}; the new one is learning`,
  }
}

function noteContradiction(
  context: PointContext,
  state: PointState,
  analyzer: string,
  work: Work,
  found: Contradiction,
): void {
  const text = `${found.text.charAt(0).toUpperCase()}${found.text.slice(1)}`
  state.fold.notes.push({
    key: `work ${analyzer} ${String(work.atMs)} ${work.action} ${found.text}`,
    atMs: work.atMs,
    type: 'reference.suspect',
    data: {
      summary: `${analyzer}, ${WORK_WORDS[work.action]} of ${sayInstant(work.atMs)}: ${found.text}; it is not used as proof: ${found.ask}.`,
      notify: 'shift_summary',
      reference: found.reference,
      analyzer,
      point: context.point.id,
      ...(found.standard === undefined ? {} : { standard: found.standard }),
      at: formatInstant(work.atMs),
      because: [text],
      ask: found.ask,
    },
  })
}
