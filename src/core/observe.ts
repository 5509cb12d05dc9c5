import { kept } from '../model/rounding.js'
import { condenseWindow, WINDOW_MS } from '../compare/redundant.js'
import { chartDifference } from '../detect/redundantChart.js'
import { addCount } from '../model/exclusionCounts.js'
import type { Grab, ProcessState, Work } from '../model/messages.js'
import { blockAt } from '../qualify/blockLog.js'
import { advanceGate } from '../qualify/gate.js'
import { advanceService } from '../qualify/serviceGate.js'
import type { PointContext } from './context.js'
import { type Fact, factsDue } from './facts.js'
import { updateFindings } from './findings.js'
import { takeGrab } from './observeGrab.js'
import { noteOldWork, takeWork } from './observeWork.js'
import type { PointState, UnitFold } from './pointState.js'

const KEPT_DIFFERENCES = 240
const KEPT_USABLE = 12

/**
 * Takes the block that ends at `endMs`, and the facts due with it, into the fold of one point: gates, charts, pairs,
 * findings. Says nothing yet; what follows from it is `conclude`'s.
 */
export function observePoint(context: PointContext, state: PointState, endMs: number): void {
  const { fold } = state
  const due = factsDue(state.facts, endMs)
  const inService = advanceService(
    fold.service,
    due.flatMap(({ message }) => (message.kind === 'process' ? [message] : [])) satisfies ProcessState[],
    endMs,
  )
  const row = fold.units.map((unit, i) =>
    observeUnit(context, state, unit, i, worksOf(due, context, i), inService, endMs),
  )
  noteOldWorks(due, context, state)
  fold.window.rowsNtu.push(row)
  if (endMs % WINDOW_MS === 0) closeWindow(context, state, endMs)
  const grabs = due.flatMap(({ message }) => (message.kind === 'grab' ? [message] : [])) satisfies Grab[]
  for (const grab of grabs) takeGrab(context, state, grab, inService, endMs)
  updateFindings(context, state, row, inService, endMs)
}

function worksOf(due: readonly Fact[], context: PointContext, unit: number): Work[] {
  return due.flatMap(({ message, old }) =>
    old !== true && message.kind === 'work' && message.analyzer === context.analyzers[unit]?.id ? [message] : [],
  )
}

function noteOldWorks(due: readonly Fact[], context: PointContext, state: PointState): void {
  for (const { message, old } of due) {
    const unit =
      state.fold.units[
        context.analyzers.findIndex(analyzer => message.kind === 'work' && analyzer.id === message.analyzer)
      ]
    if (old === true && message.kind === 'work' && unit !== undefined) noteOldWork(unit, message)
  }
}

/** @returns the block's median where it counts, else null */
function observeUnit(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  works: readonly Work[],
  inService: boolean,
  endMs: number,
): number | null {
  const analyzer = context.analyzers[i]
  const analyzerState = state.analyzers[i]
  if (analyzer === undefined || analyzerState === undefined) return null
  const reason = advanceGate(unit.gate, works, endMs, analyzerState.log, analyzer, context.plant.settlingCapMs)
  for (const work of works) takeWork(context, state, unit, i, work)
  const block = blockAt(analyzerState.log, endMs)
  const against = reason ?? (inService ? undefined : 'not_in_service')
  if (against !== undefined || block === undefined) {
    if (against !== undefined && against !== 'no_usable_reading') addCount(unit.excluded, against, block?.count ?? 0)
    return null
  }
  unit.lastUsableMs = endMs
  unit.levelNtu = smoothLevel(unit.levelNtu, block.medianNtu)
  unit.usableEnds = [...unit.usableEnds.slice(-(KEPT_USABLE - 1)), endMs]
  return block.medianNtu
}

/** Present level with a memory of some six hours: one block must not move what a tolerance is taken at. */
function smoothLevel(levelNtu: number | null, medianNtu: number): number {
  return levelNtu === null ? medianNtu : levelNtu + (medianNtu - levelNtu) / 24
}

function closeWindow(context: PointContext, state: PointState, endMs: number): void {
  const { fold } = state
  const condensed = condenseWindow(fold.window, endMs, context.analyzers, context.lines)
  fold.window.rowsNtu = []
  const lines = context.lines.map((named, k) => {
    const line = fold.lines[k]
    if (line === undefined) return null
    const charted = chartDifference(
      line,
      named,
      context.analyzers.length,
      context.plant,
      context.sides,
      endMs,
      condensed?.values[k] ?? null,
    )
    if (charted === undefined) return null
    return {
      ofTolerance: kept(charted.ofTolerance),
      uOfTolerance: kept(charted.uOfTolerance),
      high: kept(line.chart.high),
      low: kept(line.chart.low),
      limit: line.chart.limit,
    }
  })
  if (condensed === undefined) return
  state.differences.push({ ...condensed.difference, lines })
  if (state.differences.length > KEPT_DIFFERENCES) state.differences.shift()
  fold.evidenceSinceEstimate = true
}
