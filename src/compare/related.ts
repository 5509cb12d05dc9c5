import { DIGITS, roundTo } from '../model/rounding.js'
import { type Tolerance, toleranceAt } from '../model/tolerance.js'
import { median } from '../statistics/robust.js'
import type { PointDay } from './day.js'
import { habitShift, LEAST_DAYS } from './habit.js'
import { isFar, sayLearning, type SlowLine } from './slowLine.js'

/** A point that flows into another one. */
export interface Upstream {
  readonly point: string
  readonly days: readonly PointDay[]
}

/**
 * A unit against the mean of what flows together to its point, weighted by flow on days on which every point sends one.
 * Levels differ for many reasons, so only the change against the habit counts, and it opens nothing by itself: it cannot
 * say which of the points has moved.
 * @param sinceMs last adjustment of any unit that takes part
 */
export function relatedLine(
  days: readonly PointDay[],
  unit: number,
  tolerance: Tolerance,
  upstream: readonly Upstream[],
  sinceMs: number,
): SlowLine {
  const values = days.flatMap(day => {
    const level = day.units[unit]?.medianNtu
    const reference = level === undefined || day.endMs <= sinceMs ? undefined : mixedLevel(upstream, day.endMs)
    return level === undefined || reference === undefined
      ? []
      : [{ atMs: day.endMs, value: (level - reference) / toleranceAt(tolerance, reference), reference }]
  })
  const line = { line: 'related', against: upstream.map(one => one.point).join(', ') } as const
  const shift = habitShift(values)
  if (shift === undefined)
    return { ...line, missing: sayLearning(values.length, LEAST_DAYS), shift: null, sigma: 0, points: [] }
  const referenceNtu = median(values.slice(-LEAST_DAYS).map(one => one.reference))
  return {
    ...line,
    missing: null,
    shift: {
      ntu: roundTo(shift.shift * toleranceAt(tolerance, referenceNtu), DIGITS.ntu),
      ofTolerance: roundTo(shift.shift, DIGITS.tolerances),
      sinceMs: shift.sinceMs,
      isFar: isFar(shift),
      isCommon: false,
    },
    sigma: roundTo(shift.sigma, DIGITS.tolerances),
    points: values.map(({ atMs, value }) => [atMs, roundTo(value - shift.habit, DIGITS.tolerances)]),
  }
}

/** Mean of the upstream levels of a day; undefined unless all points in service that day are known but at most half rest. */
export function mixedLevel(upstream: readonly Upstream[], endMs: number): number | undefined {
  const parts = upstream.flatMap(({ days }) => {
    const day = days.find(one => one.endMs === endMs)
    const levels = (day?.units ?? []).flatMap(unit => unit?.medianNtu ?? [])
    return day === undefined || levels.length === 0 ? [] : [{ ntu: median(levels), flowM3h: day.flowM3h }]
  })
  if (parts.length === 0 || parts.length * 2 < upstream.length) return undefined
  const isWeighted = parts.every(one => one.flowM3h !== null && one.flowM3h > 0)
  let weights = 0
  let sum = 0
  for (const { ntu, flowM3h } of parts) {
    const weight = isWeighted ? (flowM3h ?? 0) : 1
    weights += weight
    sum += weight * ntu
  }
  return sum / weights
}
