import { newOffsetLearner, restartOffset } from '../compare/laboratoryOffset.js'
import { restartGrabChart } from '../detect/grabChart.js'
import { restartRedundantChart } from '../detect/redundantChart.js'
import type { Work, WorkAction } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { DAY_MS } from '../model/time.js'
import type { Contradiction } from '../recommend/contradiction.js'
import { contradictionsOf } from '../recommend/contradictions.js'
import { takeStandards } from '../recommend/standards.js'
import type { PointContext } from './context.js'
import { noteDatedWork } from './datedWork.js'
import { exchangeAnalyzer } from './exchange.js'
import { takeCheck } from './foundWithin.js'
import { noteLastUnitOut } from './lastUnitOut.js'
import { noteContradiction } from './noteContradiction.js'
import { takeVerification } from './observeVerification.js'
import type { PointState, UnitFold } from './pointState.js'
import { takeVisit } from './takeVisit.js'
import { beginProof, leaveUndone } from './workProof.js'
import { workStanding } from './workStanding.js'

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

/** Takes one work record into the fold: what it says, what speaks against it, and what follows for charts and proof. */
export function takeWork(context: PointContext, state: PointState, unit: UnitFold, i: number, work: Work): void {
  const analyzer = context.analyzers[i]
  listWork(unit, work)
  if (analyzer === undefined) return
  const contradictions = contradictionsOf(work, analyzer, context.plant, workStanding(state, unit, i, work))
  for (const contradiction of contradictions) noteContradiction(context, state, analyzer.id, work, contradiction)
  takeVerification(context, state, unit, analyzer, work, contradictions)
  noteDatedWork(unit.dates, work, contradictions)
  takeVisit(context, unit, analyzer, work, contradictions)
  noteLastUnitOut(context, state, i, work)
  if (work.accepted === false) return
  takeStandards(unit.work.standards, work, analyzer)
  if (work.action === 'verified') takeCheck(context, state, unit, i, work, contradictions)
  else if (work.action === 'cleaned' || work.action === 'line_flushed')
    takeCleaning(context, state, unit, i, work, contradictions)
  else if (ADJUSTING.has(work.action)) takeAdjustment(context, state, unit, i, analyzer, work, contradictions)
}

/** Work from before the reach of a rebuild: it stands in the record and tells what evidence is too old, no more. */
export function noteOldWork(unit: UnitFold, work: Work): void {
  listWork(unit, work)
  noteDatedWork(unit.dates, work, [])
  if (work.accepted === false) return
  if (ADJUSTING.has(work.action)) unit.adjustedMs = Math.max(unit.adjustedMs, work.atMs)
  else if (work.action === 'cleaned') unit.cleaningsMs = [...unit.cleaningsMs, work.atMs].sort((a, b) => a - b)
}

function listWork(unit: UnitFold, work: Work): void {
  const entry = { atMs: work.atMs, action: work.action, id: work.id ?? null, serial: work.serial ?? unit.work.serial }
  unit.works = [...unit.works, entry].sort((a, b) => a.atMs - b.atMs).slice(-KEPT_WORKS)
}

/** A routine cleaning of an analyzer that nobody doubts must not wipe out what its charts have gathered. */
function takeCleaning(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  work: Work,
  contradictions: readonly Contradiction[],
): void {
  const inQuestion = unit.case?.kind === 'bias'
  const isFlushed = work.action === 'line_flushed'
  // A flushed line is no work on the analyzer: it has something to prove only where the analyzer is in question.
  if (!isFlushed || inQuestion) beginProof(unit, work, contradictions)
  if (!isFlushed) unit.cleaningsMs = [...unit.cleaningsMs.filter(atMs => atMs > work.atMs - 70 * DAY_MS), work.atMs]
  if (inQuestion) restartCharts(context, state, unit, i)
}

function takeAdjustment(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  analyzer: Analyzer,
  work: Work,
  contradictions: readonly Contradiction[],
): void {
  const undone = contradictions.find(one => one.effect === 'not_done')
  if (undone !== undefined && unit.case?.kind === 'bias') leaveUndone(unit, unit.case, work, undone)
  else beginProof(unit, work, contradictions)
  restartCharts(context, state, unit, i)
  unit.adjustedMs = work.atMs
  // What was learnt of another method holds for the units as they were.
  state.fold.methods = {}
  unit.work.foundWithin = null
  restartOffset(unit.offset)
  if (work.action !== 'replaced') return
  Object.assign(unit.offset, newOffsetLearner(context.point.grab))
  exchangeAnalyzer(context, state, unit, analyzer, work)
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
