import { DAY_MS, HOUR_MS } from '../model/time.js'
import { median } from '../statistics/robust.js'

/** A point's grab residuals in tolerances, of its units the value nearest zero, in order of sampling. */
export interface PointResiduals {
  readonly point: string
  readonly values: readonly { readonly atMs: number; readonly residual: number; readonly u: number }[]
}

/** How a point's residuals moved since an instant. */
export interface PointChange {
  readonly point: string
  readonly change: number
  readonly variance: number
  /** Mean before, from which residuals are counted. */
  readonly before: number
}

const SINCE_MOST_MS = 7 * DAY_MS
const BEFORE_MS = 21 * DAY_MS
export const LABORATORY_WAIT_MS = 36 * HOUR_MS
/** Fewer other points than this say nothing of the laboratory. */
export const OTHER_POINTS = 3
/** Spread of what a shift of the laboratory does at different points, tolerances. */
const BETWEEN_POINTS = 0.15
/** π/2: variance of a median over that of a mean. */
const MEDIAN_VARIANCE = 1.57

/** Mean since the onset (at most seven days) minus mean of the 21 days before; none before: minus zero. */
export function changeSince(series: PointResiduals, onsetMs: number, nowMs: number): PointChange | undefined {
  const fromMs = Math.max(onsetMs, nowMs - SINCE_MOST_MS)
  const since = series.values.filter(value => value.atMs >= fromMs && value.atMs <= nowMs)
  if (since.length === 0) return undefined
  const before = series.values.filter(value => value.atMs < onsetMs && value.atMs >= onsetMs - BEFORE_MS)
  const meanBefore = before.length > 0 ? mean(before) : 0
  const variance = varianceOfMean(since) + (before.length > 0 ? varianceOfMean(before) : 0)
  return { point: series.point, change: mean(since) - meanBefore, variance, before: meanBefore }
}

/**
 * Begin of the tail of a point's residuals that stands out most, looked for since `fromMs`: where a chart left zero may
 * lie long before, and what others said before the shift began says nothing of it.
 */
export function steepestSince(series: PointResiduals, fromMs: number, nowMs: number): number {
  let weight = 0
  let weighted = 0
  let best = { atMs: fromMs, z: 0 }
  for (let i = series.values.length - 1; i >= 0; i--) {
    const value = series.values[i]
    if (value === undefined || value.atMs < fromMs) break
    if (value.atMs > nowMs) continue
    weight += 1 / (value.u * value.u)
    weighted += value.residual / (value.u * value.u)
    const z = Math.abs(weighted) / Math.sqrt(weight)
    if (z > best.z) best = { atMs: value.atMs, z }
  }
  return best.atMs
}

/** The other points that take grab samples at all. */
export function speakingPoints(own: string, all: readonly PointResiduals[], nowMs: number): readonly PointResiduals[] {
  return all.filter(series => series.point !== own && series.values.some(value => value.atMs > nowMs - BEFORE_MS))
}

/** Whether enough other points have spoken since the onset for the laboratory to be judged. */
export function othersHaveSpoken(own: string, all: readonly PointResiduals[], onsetMs: number, nowMs: number): boolean {
  const others = speakingPoints(own, all, nowMs)
  const spoken = others.filter(series => series.values.some(value => value.atMs >= onsetMs)).length
  return spoken >= Math.min(OTHER_POINTS, others.length)
}

/**
 * Log-odds the other points lend to the laboratory: with d the median of their changes and c the point's own,
 * (d² − (d − c)²)/2v, v with the variance of the point's own change. Fewer than three others lend nothing.
 */
export function laboratoryGain(own: PointChange | undefined, others: readonly PointChange[]): number {
  if (own === undefined || others.length < OTHER_POINTS) return 0
  const d = median(others.map(one => one.change))
  const v =
    BETWEEN_POINTS * BETWEEN_POINTS +
    own.variance +
    (MEDIAN_VARIANCE * median(others.map(one => one.variance))) / others.length
  return (d * d - (d - own.change) * (d - own.change)) / (2 * v)
}

export interface Tail {
  readonly fromMs: number
  readonly gain: number
  readonly points: number
}

const CAP = 3

/**
 * The tail of all the plant's pairs, in order of sampling, that speaks most for one level against another, each pair
 * capped at ±3.
 * @param levelFor what the residual would be, tolerances; @param levelAgainst what it is held against
 */
export function bestTail(
  all: readonly PointResiduals[],
  before: ReadonlyMap<string, number>,
  fromMs: number,
  levelFor: number,
  levelAgainst: number,
): Tail | undefined {
  const pairs = all
    .flatMap(series =>
      series.values.map(value => ({
        ...value,
        point: series.point,
        net: value.residual - (before.get(series.point) ?? 0),
      })),
    )
    .filter(pair => pair.atMs >= fromMs)
    .sort((a, b) => a.atMs - b.atMs || (a.point < b.point ? -1 : 1))
  let best: Tail | undefined
  let sum = 0
  const points = new Set<string>()
  for (let i = pairs.length - 1; i >= 0; i--) {
    const pair = pairs[i]
    if (pair === undefined) continue
    const against = pair.net - levelAgainst
    const inFavour = pair.net - levelFor
    sum += Math.max(-CAP, Math.min(CAP, (against * against - inFavour * inFavour) / (2 * pair.u * pair.u)))
    points.add(pair.point)
    if (best === undefined || sum > best.gain) best = { fromMs: pair.atMs, gain: sum, points: points.size }
  }
  return best
}

/** Gain and number of points with which an interval ends. */
export const END_OF_INTERVAL = { gain: 9, points: 3 } as const

function mean(values: PointResiduals['values']): number {
  let sum = 0
  for (const value of values) sum += value.residual
  return sum / values.length
}

function varianceOfMean(values: PointResiduals['values']): number {
  let sum = 0
  for (const value of values) sum += value.u * value.u
  return sum / (values.length * values.length)
}
