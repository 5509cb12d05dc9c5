import type { DecisionContext } from '../recommend/decide.js'
import { fallingFit } from '../statistics/isotonic.js'
import { mannKendallYueWang } from '../statistics/mannKendall.js'
import type { PointState, UnitFold } from './pointState.js'

/** Two-sided p below which a falling level is no chance. */
const TREND_P = 0.05

/** What else is known when an action is chosen: the light source and what was tried. */
export function decisionContext(state: PointState, unit: UnitFold, i: number): DecisionContext {
  return {
    lightLossPct: lightLoss(state, i, unit.adjustedMs),
    failed: unit.failed,
    zeroWaterSuspect: unit.zeroWaterSuspect,
  }
}

/**
 * Loss since the highest level after the last adjustment, per cent of it, along the falling series nearest to the days;
 * 0 where the days show no falling trend, undefined where no level is reported. The best day against the last would call
 * a noisy level a loss, and a line would miss a source that was sound for weeks and then fails.
 */
export function lightLoss(state: PointState, i: number, sinceMs: number): number | undefined {
  const days = (state.analyzers[i]?.lightDays ?? []).filter(day => day.dayMs >= sinceMs)
  if (days.length < 3) return undefined
  const levels = days.map(day => day.meanPct)
  const trend = mannKendallYueWang(levels)
  if (trend === null || trend.z >= 0 || trend.p >= TREND_P) return 0
  const fit = fallingFit(
    levels,
    days.map(day => day.n),
  )
  const [best = 0] = fit
  return best > 0 ? (100 * (best - (fit.at(-1) ?? 0))) / best : undefined
}
