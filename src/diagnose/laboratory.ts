import { DAY_MS, HOUR_MS } from '../model/time.js'
import { exp, ln } from '../statistics/distributions.js'

/** A point's grab residuals in tolerances, of its units the value nearest zero, in order of sampling. */
export interface PointResiduals {
  readonly point: string
  /** Of the newest value. */
  readonly levelNtu: number
  readonly toleranceNtu: number
  readonly values: readonly { readonly atMs: number; readonly residual: number; readonly u: number }[]
}

/** How a point's residuals moved since an instant. */
export interface PointChange {
  readonly point: string
  readonly change: number
  readonly variance: number
  /** Mean before, from which residuals are counted. */
  readonly before: number
  readonly levelNtu: number
  readonly toleranceNtu: number
}

const SINCE_MOST_MS = 7 * DAY_MS
const BEFORE_MS = 21 * DAY_MS
export const LABORATORY_WAIT_MS = 36 * HOUR_MS
/** Fewer other points than this say nothing of the laboratory. */
export const OTHER_POINTS = 3
/** Spread of what a shift of the laboratory does at different points, tolerances. */
const BETWEEN_POINTS = 0.15
/** Chance that another point has a change of its own in the same days, and its standard deviation in tolerances. */
const OWN_CHANGE = { share: 0.1, sd: 1 } as const

/** Mean since the onset (at most seven days) minus mean of the 21 days before; none before: minus zero. */
export function changeSince(series: PointResiduals, onsetMs: number, nowMs: number): PointChange | undefined {
  const fromMs = Math.max(onsetMs, nowMs - SINCE_MOST_MS)
  const since = series.values.filter(value => value.atMs >= fromMs && value.atMs <= nowMs)
  if (since.length === 0) return undefined
  const before = series.values.filter(value => value.atMs < onsetMs && value.atMs >= onsetMs - BEFORE_MS)
  const meanBefore = before.length > 0 ? mean(before) : 0
  const variance = varianceOfMean(since) + (before.length > 0 ? varianceOfMean(before) : 0)
  const { point, levelNtu, toleranceNtu } = series
  return { point, change: mean(since) - meanBefore, variance, before: meanBefore, levelNtu, toleranceNtu }
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

/** What the other points say of the laboratory, seen from one point. */
export interface LaboratoryView {
  /** Log-odds they lend to the laboratory being off. */
  readonly gain: number
  /** What its error would then be at the point, tolerances. */
  readonly mean: number
  readonly sd: number
}

export type Water = Pick<PointChange, 'levelNtu' | 'toleranceNtu'>

/** How an error of the laboratory goes from point to point: alike in NTU, as a share of the level, or in tolerances. */
export const SHIFT_FORMS = ['ntu', 'share', 'tolerances'] as const
export type ShiftForm = (typeof SHIFT_FORMS)[number]

/** Tolerances that one unit of size makes at a point. */
const TOLERANCES_OF: Readonly<Record<ShiftForm, (at: Water) => number>> = {
  tolerances: () => 1,
  ntu: at => 1 / at.toleranceNtu,
  share: at => Math.max(0, at.levelNtu) / at.toleranceNtu,
}

/** A shift of the laboratory: analyzer minus grab sample, in NTU, as a share of the level, or in tolerances. */
export interface Shift {
  readonly form: ShiftForm
  readonly size: number
}

export function shiftAt({ form, size }: Shift, at: Water): number {
  return size * TOLERANCES_OF[form](at)
}

/** Chi-squared by which another form must beat one that stands before it in the list. */
const BETTER = 4

/** The form in which the changes of the points are most alike, and its size there by weighted least squares. */
export function shiftForm(changes: readonly PointChange[]): Shift {
  const fits = SHIFT_FORMS.map(form => {
    let [cross, square] = [0, 0]
    for (const one of changes) {
      const effect = TOLERANCES_OF[form](one)
      cross += (one.change * effect) / varianceOf(one)
      square += (effect * effect) / varianceOf(one)
    }
    const size = square > 0 ? cross / square : 0
    const chiSquared = changes.reduce((sum, one) => {
      const off = one.change - size * TOLERANCES_OF[form](one)
      return sum + (off * off) / varianceOf(one)
    }, 0)
    return { form, size, chiSquared }
  })
  const least = Math.min(...fits.map(fit => fit.chiSquared))
  const { form, size } = fits.find(fit => fit.chiSquared <= least + BETTER) ?? { form: 'tolerances', size: 0 }
  return { form, size }
}

function varianceOf({ variance }: PointChange): number {
  return variance + BETWEEN_POINTS * BETWEEN_POINTS
}
/** Sizes tried, tolerances at the point; before anything is known they are normal with standard deviation 1. */
const SIZES = { most: 3, step: 0.1 } as const

/**
 * Bayes factor of the changes at the other points for one size of the laboratory's error, sizes and forms averaged,
 * against none: every point may have a change of its own. What the point itself says is left to its posterior, which
 * takes the size from here. Undefined with fewer than three other points.
 */
export function laboratoryView(own: Water, others: readonly PointChange[]): LaboratoryView | undefined {
  if (others.length < OTHER_POINTS) return undefined
  const none = others.reduce((sum, one) => sum + logLikelihood(one, 0), 0)
  const looks: { size: number; log: number }[] = []
  for (const form of Object.values(TOLERANCES_OF)) {
    const here = form(own)
    if (here === 0) continue
    for (let size = -SIZES.most; size <= SIZES.most; size += SIZES.step) {
      const log = others.reduce((sum, one) => sum + logLikelihood(one, (size * form(one)) / here), 0)
      looks.push({ size, log: log - none - (size * size) / 2 })
    }
  }
  const most = looks.reduce((top, { log }) => Math.max(top, log), -Infinity)
  let [total, sum, squares, prior] = [0, 0, 0, 0]
  for (const { size, log } of looks) {
    const weight = exp(log - most)
    total += weight
    sum += weight * size
    squares += weight * size * size
    prior += exp((-size * size) / 2)
  }
  const average = sum / total
  const variance = Math.max(0, squares / total - average * average) + BETWEEN_POINTS * BETWEEN_POINTS
  return { gain: most + ln(total / prior), mean: average, sd: Math.sqrt(variance) }
}

function logLikelihood({ change, variance }: PointChange, expected: number): number {
  const v = variance + BETWEEN_POINTS * BETWEEN_POINTS
  const wide = v + OWN_CHANGE.sd * OWN_CHANGE.sd
  const off = change - expected
  return ln(
    ((1 - OWN_CHANGE.share) * exp((-off * off) / (2 * v))) / Math.sqrt(v) +
      (OWN_CHANGE.share * exp((-off * off) / (2 * wide))) / Math.sqrt(wide),
  )
}

/** The laboratory is right. */
export const NO_SHIFT: Shift = { form: 'tolerances', size: 0 }

export interface Tail {
  readonly fromMs: number
  readonly gain: number
  readonly points: number
}

const CAP = 3

/**
 * The tail of all the plant's pairs, in order of sampling, that speaks most for one level against another, each pair
 * capped at ±3.
 * @param shiftFor what the residuals would be; @param shiftAgainst what they are held against
 */
export function bestTail(
  all: readonly PointResiduals[],
  before: ReadonlyMap<string, number>,
  fromMs: number,
  shiftFor: Shift,
  shiftAgainst: Shift,
): Tail | undefined {
  const pairs = all
    .flatMap(series =>
      series.values.map(value => ({
        ...value,
        point: series.point,
        net: value.residual - (before.get(series.point) ?? 0),
        levelFor: shiftAt(shiftFor, series),
        levelAgainst: shiftAt(shiftAgainst, series),
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
    const against = pair.net - pair.levelAgainst
    const inFavour = pair.net - pair.levelFor
    sum += Math.max(-CAP, Math.min(CAP, (against * against - inFavour * inFavour) / (2 * pair.u * pair.u)))
    points.add(pair.point)
    if (best === undefined || sum > best.gain) best = { fromMs: pair.atMs, gain: sum, points: points.size }
  }
  return best
}

/** Gain and number of points with which an interval ends. */
export const END_OF_INTERVAL = { gain: 9, points: 3 } as const
/** Less will do where the instrument was found off on a standard, and right again since. */
export const SOONER_AFTER_CHECK = { gain: 4, points: 2 } as const

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
