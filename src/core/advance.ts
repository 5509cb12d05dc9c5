import type { PointResiduals } from '../diagnose/laboratory.js'
import type { PlantEvent } from '../model/events.js'
import { addCount, addCounts } from '../model/exclusionCounts.js'
import type { Plant, Point } from '../model/plant.js'
import { FLAG, putBlock, REACH_DAYS } from '../qualify/blockLog.js'
import { closeBlock } from '../qualify/closeBlock.js'
import { holdValue } from '../qualify/heldValue.js'
import { flagStuckRun } from '../qualify/stuckRun.js'
import { BLOCK_MS, type OpenBlock, openBlock } from '../qualify/openBlock.js'
import { DAY_MS } from '../model/time.js'
import { answerResponses } from './answer.js'
import { concludePoint, type Conclusion } from './conclude.js'
import { type PointContext, pointContext } from './context.js'
import { concludeLaboratory } from './sights/laboratory.js'
import { observePoint } from './observe.js'
import { fromBeforeRecord } from './facts.js'
import type { PlantState } from './plantState.js'
import type { AnalyzerState, PointState } from './pointState.js'
import { publish } from './publish.js'
import { rebuildPoint, takeSnapshot } from './rebuild.js'
import { residualsOf } from './residuals.js'
import { lookAcross } from './sights/lookAcross.js'
import { sightsOf } from './sights/sights.js'
import { lookAtSlowLines } from './slowLines.js'
import type { Watch } from './watch.js'

/**
 * Moves plant time. Work is done at the instants when blocks close (end + lateness), one after the other and each at
 * its own time, so that the events do not depend on how far apart the ticks are.
 */
export function advanceTo(state: PlantState, tickMs: number, watch?: Watch): PlantEvent[] {
  if (state.register === null || tickMs <= state.plantMs) return []
  state.plantMs = tickMs
  const { plant } = state.register
  const events: PlantEvent[] = []
  if (state.workedMs === 0 && !begin(state, plant, tickMs)) return events
  for (let endMs = state.workedMs + BLOCK_MS; endMs + plant.latenessMs <= tickMs; endMs += BLOCK_MS) {
    workThrough(state, plant, endMs, watch)
    lookAtSlowLines(state, plant)
    const told = [...answerResponses(state, endMs, endMs + plant.latenessMs), ...publish(state, plant, endMs)]
    events.push(...told)
    watch?.told(state, plant, told)
  }
  return events
}

/**
 * The record begins with the earliest block of the last day whose time to be late is over: every legal order of the
 * messages has it whole by then. What is older was never part of the record.
 */
function begin(state: PlantState, plant: Plant, tickMs: number): boolean {
  let first = Infinity
  for (const point of state.points.values()) {
    for (const analyzer of point.analyzers) {
      for (const endMs of analyzer.open.keys()) {
        if (endMs > tickMs - DAY_MS && endMs + plant.latenessMs <= tickMs) first = Math.min(first, endMs)
      }
    }
  }
  if (first === Infinity) return false
  for (const point of state.points.values()) {
    for (const analyzer of point.analyzers) dropBefore(analyzer, first)
    point.facts = point.facts.map(fact => fromBeforeRecord(fact, first))
  }
  state.startedMs = first
  state.workedMs = first - BLOCK_MS
  return true
}

function dropBefore(analyzer: AnalyzerState, firstMs: number): void {
  for (const [end, block] of analyzer.open) {
    if (end >= firstMs) continue
    analyzer.open.delete(end)
    addCount(analyzer.excluded, 'too_old', block.timesMs.length)
  }
}

function workThrough(state: PlantState, plant: Plant, endMs: number, watch: Watch | undefined): void {
  const residualsAt = (untilMs: number): PointResiduals[] =>
    [...state.points.values()].map(point => residualsOf(point, untilMs, state.laboratory.intervals))
  const points = [...state.points.values()].flatMap((point): [PointContext, PointState][] => {
    const registered = plant.points.get(point.id)
    return registered === undefined ? [] : [[contextOf(state, plant, registered), point]]
  })
  let lateBlocksMs = Infinity
  for (const [context, point] of points)
    lateBlocksMs = Math.min(lateBlocksMs, closeDueBlocks(state, context, point, endMs))
  const conclusions: Conclusion[] = []
  for (const [context, point] of points) {
    const fromMs = state.rebuildFrom.get(point.id)
    if (fromMs === undefined) continue
    conclusions.push(rebuildPoint(context, point, fromMs, state.workedMs, state.startedMs, residualsAt, watch))
    state.laboratory.hasNewPairs = true
  }
  let pairsFromMs = Math.min(Infinity, ...state.rebuildFrom.values())
  state.rebuildFrom.clear()
  for (const [context, point] of points) {
    observePoint(context, point, endMs)
    if (point.pairs.at(-1)?.dueMs !== endMs) continue
    state.laboratory.hasNewPairs = true
    pairsFromMs = Math.min(pairsFromMs, endMs)
  }
  const touched = lookAcross(state, plant, { pairsFromMs, blocksFromMs: lateBlocksMs }, endMs)
  let cached: PointResiduals[] | undefined
  const now = (): PointResiduals[] => (cached ??= residualsAt(endMs))
  for (const [context, point] of points) {
    const fromMs = touched.get(point.id)
    if (fromMs !== undefined) {
      const anew = contextOf(state, plant, context.point)
      conclusions.push(rebuildPoint(anew, point, fromMs, endMs, state.startedMs, residualsAt, watch))
      continue
    }
    conclusions.push(concludePoint(context, point, endMs, now))
    takeSnapshot(point, endMs)
    watch?.folded(context, point, endMs)
  }
  state.workedMs = endMs
  if (endMs % DAY_MS === 0) forget(state, endMs)
  const fromMs = concludeLaboratory(state, plant, conclusions, now, endMs)
  if (fromMs === undefined) return
  for (const point of plant.points.values()) {
    const own = state.points.get(point.id)
    if (own !== undefined)
      rebuildPoint(contextOf(state, plant, point), own, fromMs, endMs, state.startedMs, residualsAt, watch)
  }
}

function contextOf(state: PlantState, plant: Plant, point: Point): PointContext {
  const sights = sightsOf(state.sights, point.id, point.analyzers)
  return pointContext(plant, point, state.laboratory.intervals, sights)
}

/** @returns the earliest block before `endMs` that was filled late, or infinity */
function closeDueBlocks(state: PlantState, context: PointContext, point: PointState, endMs: number): number {
  let lateMs = Infinity
  point.analyzers.forEach((analyzerState, i) => {
    const analyzer = context.analyzers[i]
    if (analyzer === undefined) return
    if (endMs % DAY_MS === 0) dropStrays(analyzerState, state.plantMs)
    const due = [...analyzerState.open.keys()]
      .filter(end => end <= endMs && isComplete(analyzerState, end, endMs))
      .sort((a, b) => a - b)
    for (const end of due) {
      const block = analyzerState.open.get(end)
      if (block === undefined) continue
      analyzerState.open.delete(end)
      store(analyzerState, block, closeBlock(block, analyzer, analyzerState.condense))
      const stuckFromMs = flagStuckRun(analyzerState.log, end)
      if (stuckFromMs < end) requestRebuild(state, point.id, stuckFromMs)
      if (end === endMs) continue
      holdValue(analyzerState.log, analyzer, end, endMs)
      requestRebuild(state, point.id, end)
      lateMs = Math.min(lateMs, end)
    }
    if (!due.includes(endMs) && state.feedsDown.includes(analyzerState.feed)) {
      const empty = closeBlock(openBlock(endMs), analyzer, analyzerState.condense)
      putBlock(analyzerState.log, { ...empty.block, flags: FLAG.feedDown })
    }
    holdValue(analyzerState.log, analyzer, endMs - BLOCK_MS, endMs)
  })
  return lateMs
}

/** A block that stayed empty and is filled late is complete once the analyzer's readings have moved past it. */
function isComplete(analyzer: AnalyzerState, end: number, endMs: number): boolean {
  if (end === endMs) return true
  for (const later of analyzer.open.keys()) if (later > end) return true
  return endMs - end > 4 * BLOCK_MS
}

/** A reading from a far future that plant time did not come near within a day was no reading of that time. */
function dropStrays(analyzer: AnalyzerState, plantMs: number): void {
  for (const [end, block] of analyzer.open) {
    if (end <= plantMs + DAY_MS) continue
    analyzer.open.delete(end)
    addCount(analyzer.excluded, 'from_future', block.timesMs.length)
  }
}

/** Some hours of a standard in the cell. */
const KEPT_CALIBRATING = 240

function store(analyzer: AnalyzerState, open: OpenBlock, closed: ReturnType<typeof closeBlock>): void {
  putBlock(analyzer.log, closed.block)
  addCounts(analyzer.excluded, closed.excluded)
  if (closed.calibrating.length > 0)
    analyzer.calibrating = [...analyzer.calibrating, ...closed.calibrating]
      .sort((a, b) => a.atMs - b.atMs)
      .slice(-KEPT_CALIBRATING)
  if (closed.lightPct === undefined) return
  const dayMs = Math.floor((open.endMs - 1) / DAY_MS) * DAY_MS
  const day = analyzer.lightDays.findIndex(one => one.dayMs === dayMs)
  const known = analyzer.lightDays[day]
  if (known === undefined)
    analyzer.lightDays = [...analyzer.lightDays.slice(-69), { dayMs, meanPct: closed.lightPct, n: 1 }]
  else
    analyzer.lightDays[day] = {
      dayMs,
      meanPct: (known.meanPct * known.n + closed.lightPct) / (known.n + 1),
      n: known.n + 1,
    }
}

/** Facts are kept for as long as a rebuild may ask for them, identities as long as somebody may repeat a record. */
function forget(state: PlantState, endMs: number): void {
  for (const point of state.points.values())
    point.facts = point.facts.filter(fact => fact.dueMs >= endMs - REACH_MS - 2 * DAY_MS)
  for (const [identity, { atMs }] of state.identities) if (atMs < endMs - IDENTITY_MS) state.identities.delete(identity)
}

const IDENTITY_MS = 60 * DAY_MS

export function requestRebuild(state: PlantState, point: string, fromMs: number): void {
  const known = state.rebuildFrom.get(point) ?? Infinity
  state.rebuildFrom.set(point, Math.min(known, fromMs))
}

/** Readings older than this before plant time are not taken any more. */
export const REACH_MS = REACH_DAYS * DAY_MS
