import type { DecisionContext } from '../recommend/decide.js'
import type { PointState, UnitFold } from './pointState.js'

/** What else is known when an action is chosen: the light source and what was tried. */
export function decisionContext(state: PointState, unit: UnitFold, i: number): DecisionContext {
  return {
    lightLossPct: lightLoss(state, i, unit.adjustedMs),
    failed: unit.failed,
    zeroWaterSuspect: unit.zeroWaterSuspect,
  }
}

/** Loss since the best day after the last adjustment, per cent of it; undefined where no level is reported. */
export function lightLoss(state: PointState, i: number, sinceMs: number): number | undefined {
  const days = (state.analyzers[i]?.lightDays ?? []).filter(day => day.dayMs >= sinceMs)
  const last = days.at(-1)
  if (last === undefined || days.length < 3) return undefined
  const best = Math.max(...days.map(day => day.meanPct))
  return best > 0 ? (100 * (best - last.meanPct)) / best : undefined
}
