import { decide, urgencyOf } from '../recommend/decide.js'
import type { PointContext } from './context.js'
import { decisionContext } from './decisionContext.js'
import type { PointState, UnitFold } from './pointState.js'

/** Opens a bias case, or turns the question which unit is wrong into it. */
export function openBias(context: PointContext, state: PointState, unit: UnitFold, i: number, endMs: number): void {
  const { estimate } = unit
  const analyzer = context.analyzers[i]
  if (estimate === null || analyzer === undefined) return
  const decision = decide(estimate, decisionContext(context, state, unit, i, endMs))
  unit.case = {
    target: { analyzer: analyzer.id, point: null, laboratoryInstrument: null },
    kind: 'bias',
    phase: 'open',
    openedMs: endMs,
    ...decision,
    urgency: urgencyOf(estimate, context.point),
    estimate,
    finding: null,
    sinceMs: estimate.onset?.estimateMs ?? endMs,
    pendingAction: null,
  }
  unit.ended = null
  if (state.fold.pointCase === null) return
  state.fold.pointCase = null
  state.fold.pointEnded = { atMs: endMs, how: 'closed', reason: `superseded: it is ${analyzer.id}` }
}
