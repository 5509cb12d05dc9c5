import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../model/time.js'
import { kept } from '../../model/rounding.js'
import { madSigma, median } from '../../statistics/robust.js'
import type { SignOf } from './sign.js'

/** A unit's difference to the others of its point, by day and by night. Plain data. */
export interface DaylightState {
  /** Midnight of the local day in progress as if the clock on the wall showed UTC; sums over its light and dark hours. */
  dayMs: number
  light: Sums
  dark: Sums
  /** Whole days, newest last. */
  days: LitDay[]
}

/** Differences, and levels of the other units. */
interface Sums {
  sum: number
  levels: number
  n: number
}

interface LitDay {
  /** Local midnight it begins with. */
  readonly fromMs: number
  readonly dayNtu: number
  readonly nightNtu: number
  /** How much higher the water itself stood by day, or by night. */
  readonly swingNtu: number
}

export function newDaylightState(): DaylightState {
  return { dayMs: 0, light: noSums(), dark: noSums(), days: [] }
}

function noSums(): Sums {
  return { sum: 0, levels: 0, n: 0 }
}

/** Local hours that are light, and dark, in most seasons and places. */
const LIGHT_H = [9, 17] as const
const DARK_H = [22, 4] as const
/** Of the 32 and 24 blocks in them so many must count. */
const LEAST_BLOCKS = 12
const KEPT_DAYS = 21

/** Takes a block's difference to the other units. @param offsetMin minutes from UTC to local time */
export function takeDaylight(
  state: DaylightState,
  endMs: number,
  offsetMin: number,
  differenceNtu: number,
  othersNtu: number,
): void {
  const wallMs = endMs + offsetMin * MINUTE_MS
  const hour = (wallMs % DAY_MS) / HOUR_MS
  // A night belongs to the day before it, so that a day ends in the small hours.
  const dayMs = Math.floor((wallMs - DARK_H[1] * HOUR_MS) / DAY_MS) * DAY_MS
  if (dayMs !== state.dayMs) closeDay(state, dayMs, offsetMin)
  const isDark = hour >= DARK_H[0] || hour < DARK_H[1]
  if (!isDark && !(hour >= LIGHT_H[0] && hour < LIGHT_H[1])) return
  const sums = isDark ? state.dark : state.light
  sums.sum += differenceNtu
  sums.levels += othersNtu
  sums.n += 1
}

function closeDay(state: DaylightState, dayMs: number, offsetMin: number): void {
  const { light, dark } = state
  if (light.n >= LEAST_BLOCKS && dark.n >= LEAST_BLOCKS) {
    const fromMs = state.dayMs - offsetMin * MINUTE_MS
    const day = {
      fromMs,
      dayNtu: kept(light.sum / light.n),
      nightNtu: kept(dark.sum / dark.n),
      swingNtu: kept(Math.abs(light.levels / light.n - dark.levels / dark.n)),
    }
    state.days = [...state.days.slice(-(KEPT_DAYS - 1)), day]
  }
  state.dayMs = dayMs
  state.light = noSums()
  state.dark = noSums()
}

/** Days in a row that must show it, and as many before that must not. */
const LEAST_DAYS = 4
/** By day above by night, tolerances: below it nobody need be sent. */
const LEAST_CONTRAST = 0.3
/** Size over its standard uncertainty; a unit in ten thousand years shows it by chance on four days. */
const CLEAR = 5
/** Share by which two sound units may differ in gain: so much of the water's own swing is no light. */
const GAIN_APART = 0.1
/** Spread of a day's contrast that sound units have, tolerances; the standard deviation of a mean over hours. */
const USUAL_SPREAD = 0.08

/**
 * Light that falls in adds by day and not by night. It must show on each of the last days, be larger than chance makes
 * it, and not have been there before: a slow difference of the water in two cells that goes with the hour was. What two
 * gains make of water that swings with the day, as melt and tides do, is taken off.
 * @param visitMs last work at the unit; the days since it count, or the last days where there is none
 */
export function daylightSign(
  { days }: DaylightState,
  visitMs: number | null,
  toleranceNtu: number,
): SignOf<'daylight'> | undefined {
  const since =
    visitMs === null ? days.slice(-LEAST_DAYS) : days.filter(day => day.fromMs + LIGHT_H[0] * HOUR_MS > visitMs)
  const before = days.slice(0, days.length - since.length)
  // Without a record of how it was before, day and night may always have differed.
  if (since.length < LEAST_DAYS || before.length < LEAST_DAYS) return undefined
  const now = since.map(contrastOf)
  const contrast = median(now)
  const usual = median(before.map(contrastOf))
  const spread = Math.max(USUAL_SPREAD * toleranceNtu, madSigma(before.map(contrastOf)))
  if (contrast < LEAST_CONTRAST * toleranceNtu || contrast - usual < contrast / 2) return undefined
  if (now.some(one => one < contrast / 3)) return undefined
  if ((contrast - usual) * Math.sqrt(since.length) < CLEAR * spread) return undefined
  return {
    kind: 'daylight',
    dayNtu: kept(median(since.map(day => day.dayNtu))),
    nightNtu: kept(median(since.map(day => day.nightNtu))),
    days: since.length,
    sinceMs: visitMs ?? since[0]!.fromMs,
    visitMs,
  }
}

/** Without what a difference of gain would make of water that itself stands higher by day or by night. */
function contrastOf({ dayNtu, nightNtu, swingNtu }: LitDay): number {
  const contrast = dayNtu - nightNtu
  const byGain = Math.min(Math.abs(contrast), GAIN_APART * swingNtu)
  return contrast < 0 ? contrast + byGain : contrast - byGain
}
