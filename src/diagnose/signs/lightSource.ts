import { fallingFit } from '../../statistics/isotonic.js'
import { mannKendallYueWang } from '../../statistics/mannKendall.js'
import type { SignOf } from './sign.js'

/** A day's mean light source level, per cent, of so many readings. */
export interface LightDay {
  readonly dayMs: number
  readonly meanPct: number
  readonly n: number
}

/** Two-sided p below which a falling level is no chance. */
const TREND_P = 0.05
const LEAST_DAYS = 3
/** Loss from which on it is spoken of, per cent. */
const FADING_PCT = 2.5

/**
 * Loss since the highest level after the last adjustment, per cent of it, along the falling series nearest to the days;
 * 0 where the days show no falling trend, undefined where no level is reported. The best day against the last would call
 * a noisy level a loss, and a line would miss a source that was sound for weeks and then fails.
 */
export function lightLoss(all: readonly LightDay[], sinceMs: number): number | undefined {
  const days = all.filter(day => day.dayMs >= sinceMs)
  if (days.length < LEAST_DAYS) return undefined
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

export function lightSign(days: readonly LightDay[], sinceMs: number): SignOf<'light_source'> | undefined {
  const lossPct = lightLoss(days, sinceMs)
  return lossPct === undefined || lossPct < FADING_PCT ? undefined : { kind: 'light_source', lossPct }
}
