import { kept } from '../../model/rounding.js'
import { DAY_MS } from '../../model/time.js'
import type { NoiseState } from './noise.js'
import { type ErrorValue, meanOf } from './series.js'
import type { SignOf } from './sign.js'
import { mean } from '../../statistics/mean.js'

/** Cleanings older than this do not count as the same trouble. */
const REMEMBERED_MS = 28 * DAY_MS
/** A film takes longer than this to come back (common practice, no source). */
const HELPED_AT_MOST_DAYS = 5
/** How long after the good days it must be back: what takes longer grew, as a film does. */
const BACK_DAYS = 3
/** Rise after the good days over its standard uncertainty. */
const CLEAR = 3
/** The least rise, tolerances, and the share of it that each cleaning must show: a step shows it after one. */
const LEAST_RISE = 0.4
const LEAST_SHARE = 0.5

/** What followed one cleaning, up to the next. */
interface Cycle {
  readonly atMs: number
  readonly good: readonly ErrorValue[]
  readonly bad: readonly ErrorValue[]
}

/**
 * An error that a cleaning takes away each time and that is back within days: water on the optics (condensation, a seal
 * that lets air in) rather than a film, which grows for weeks, and no drift, which cleaning does not move. The number of
 * good days is the one that parts good and bad values best; it must hold for each cleaning that values are there for.
 * @param values what the unit shows against something independent
 */
export function returnsSign(
  values: readonly ErrorValue[],
  cleaningsMs: readonly number[],
  noise: NoiseState,
  toleranceNtu: number,
  nowMs: number,
): SignOf<'returns_after_cleaning'> | undefined {
  const recent = cleaningsMs.filter(atMs => atMs > nowMs - REMEMBERED_MS && atMs <= nowMs)
  let best: ({ readonly afterDays: number } & Rise) | undefined
  for (let afterDays = 1; afterDays <= HELPED_AT_MOST_DAYS; afterDays++) {
    const rise = riseAfter(values, recent, afterDays, nowMs)
    if (rise === undefined || rise.riseNtu < LEAST_RISE * toleranceNtu) continue
    if (rise.z >= CLEAR && rise.z > (best?.z ?? 0)) best = { afterDays, ...rise }
  }
  if (best === undefined) return undefined
  return {
    kind: 'returns_after_cleaning',
    cleaningsMs: best.cleaningsMs,
    afterDays: best.afterDays,
    riseNtu: kept(best.riseNtu),
    noiseRatio: noiseRatioOf(noise, recent, best.afterDays),
  }
}

interface Rise {
  /** Cleanings that have both good and bad values after them. */
  readonly cleaningsMs: readonly number[]
  readonly riseNtu: number
  readonly z: number
}

/** Mean of all bad values over that of all good ones; undefined where a cleaning was not followed by a rise. */
function riseAfter(
  values: readonly ErrorValue[],
  cleaningsMs: readonly number[],
  afterDays: number,
  nowMs: number,
): Rise | undefined {
  const cycles = cleaningsMs.map((atMs, k): Cycle => {
    const goodUntilMs = atMs + afterDays * DAY_MS
    const untilMs = Math.min(cleaningsMs[k + 1] ?? nowMs + 1, goodUntilMs + BACK_DAYS * DAY_MS)
    return {
      atMs,
      good: values.filter(value => value.atMs > atMs && value.atMs <= goodUntilMs),
      bad: values.filter(value => value.atMs > goodUntilMs && value.atMs < untilMs),
    }
  })
  const whole = cycles.filter(({ good, bad }) => good.length > 0 && bad.length > 0)
  const good = meanOf(whole.flatMap(one => one.good))
  const bad = meanOf(whole.flatMap(one => one.bad))
  if (good === undefined || bad === undefined) return undefined
  const riseNtu = bad.ntu - good.ntu
  const isEach = whole.every(one => (meanOf(one.bad)?.ntu ?? 0) - (meanOf(one.good)?.ntu ?? 0) > LEAST_SHARE * riseNtu)
  if (!isEach) return undefined
  const z = riseNtu / Math.sqrt(good.uNtu * good.uNtu + bad.uNtu * bad.uNtu)
  return { cleaningsMs: whole.map(({ atMs }) => atMs), riseNtu, z }
}

/** Mean noise of whole bad days over that of whole good ones. */
function noiseRatioOf({ days }: NoiseState, cleaningsMs: readonly number[], afterDays: number): number | null {
  const good: number[] = []
  const bad: number[] = []
  for (const { dayMs, meanNtu } of days) {
    const cleanedMs = cleaningsMs.findLast(atMs => atMs <= dayMs)
    if (cleanedMs === undefined) continue
    if (dayMs + DAY_MS <= cleanedMs + afterDays * DAY_MS) good.push(meanNtu)
    else if (
      dayMs >= cleanedMs + afterDays * DAY_MS &&
      !cleaningsMs.some(atMs => atMs > dayMs && atMs < dayMs + DAY_MS)
    )
      bad.push(meanNtu)
  }
  const quiet = mean(good)
  return good.length === 0 || bad.length === 0 || quiet === 0 ? null : kept(mean(bad) / quiet)
}
