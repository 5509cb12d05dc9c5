import { kept } from '../model/rounding.js'
import { condenseWindow, WINDOW_MS } from '../compare/redundant.js'
import { chartDifference } from '../detect/redundantChart.js'
import type { Grab, ProcessState, Work } from '../model/messages.js'
import { advanceService } from '../qualify/serviceGate.js'
import type { PointContext } from './context.js'
import { type Fact, factsDue } from './facts.js'
import { updateFindings } from './findings.js'
import { observeCriteria } from './observeCriteria.js'
import { takeGrab } from './observeGrab.js'
import { observeDay } from './observeDay.js'
import { observeSigns } from './observeSigns.js'
import { observeUnits } from './observeUnits.js'
import { noteOldWork } from './observeWork.js'
import type { PointState } from './pointState.js'
import { takeLevels } from './sights/hourlyLevels.js'

const KEPT_DIFFERENCES = 240

/**
 * Takes the block that ends at `endMs`, and the facts due with it, into the fold of one point: gates, charts, pairs,
 * findings. Says nothing yet; what follows from it is `conclude`'s.
 */
export function observePoint(context: PointContext, state: PointState, endMs: number): void {
  const { fold } = state
  const due = factsDue(state.facts, endMs)
  const changes = due.flatMap(({ message }) => (message.kind === 'process' ? [message] : [])) satisfies ProcessState[]
  const toldInService = advanceService(fold.service, changes, endMs)
  const works = fold.units.map((_, i) => worksOf(due, context, i))
  const { ntu: row, inService } = observeUnits(context, state, works, toldInService, endMs)
  noteOldWorks(due, context, state)
  fold.window.rowsNtu.push(row)
  // What jumps up and down shows no level to change from.
  takeLevels(
    fold.levels,
    row.map((ntu, i) => (fold.units[i]?.erratic.sinceMs == null ? ntu : null)),
    endMs,
  )
  observeDay(state, row, changes, inService, endMs)
  if (endMs % WINDOW_MS === 0) closeWindow(context, state, endMs)
  const grabs = due.flatMap(({ message }) => (message.kind === 'grab' ? [message] : [])) satisfies Grab[]
  for (const grab of grabs) takeGrab(context, state, grab, inService, endMs)
  observeSigns(context, state, works, row, endMs)
  updateFindings(context, state, row, inService, endMs)
  observeCriteria(context, state, grabs, endMs)
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
