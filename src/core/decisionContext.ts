import type { DecisionContext } from '../recommend/decisionContext.js'
import { commonWork } from './commonWork.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'
import { signsOf } from './signsOf.js'

/** What else is known when an action is chosen: signs, what was tried, how the analyzer was before. */
export function decisionContext(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  endMs: number,
): DecisionContext {
  return {
    signs: signsOf(context, state, unit, i, endMs),
    failed: unit.failed,
    zeroWaterSuspect: unit.zeroWaterSuspect,
    earlierSpans: earlierSpans(unit),
    needsPrimary: needsPrimary(unit),
    commonWork: commonWork(context, state),
  }
}

/** What standards showed when the span was set: changes of span that this analyzer has had. */
function earlierSpans({ verifications, works }: UnitFold): number[] {
  const spans = works.filter(({ action }) => action === 'span' || action === 'calibrated_primary')
  return verifications.flatMap(({ atMs, use, assignedNtu, foundNtu }) =>
    use === 'used' && assignedNtu > 0 && spans.some(span => span.atMs === atMs) ? [foundNtu / assignedNtu - 1] : [],
  )
}

/** A light source was renewed and no primary calibration followed. */
function needsPrimary({ works }: UnitFold): boolean {
  const renewed = works.findLastIndex(({ action }) => action === 'light_source_replaced')
  return renewed >= 0 && !works.slice(renewed).some(({ action }) => action === 'calibrated_primary')
}
