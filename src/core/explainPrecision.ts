import { WINDOW_MS } from '../compare/redundant.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { normalQuantile } from '../statistics/distributions.js'
import { precisionOfThree } from '../statistics/grubbsPrecision.js'
import type { Explanation } from './explanation.js'
import type { PointState } from './pointState.js'

/** Fewer pairs of windows say next to nothing of a variance. */
const LEAST_PAIRS = 20
/** A variance this many of its standard deviations above 0 is told apart from it: 95 %, one-sided. */
const TOLD_APART = normalQuantile(0.95)

/**
 * How much a six-hour value of each of three units scatters by itself, told from their differences alone. Taken from
 * pairs of windows that follow each other, each window in one pair, so that neither a bias nor a drift counts and the
 * pairs are independent; none across work on a unit.
 * @param names of the units  @returns undefined where the point has not three units, or too few pairs are kept
 */
export function precisionOf(names: readonly string[], point: PointState): Explanation['precision'] {
  if (names.length !== 3) return undefined
  const steps = stepsOf(point)
  if (steps.length < LEAST_PAIRS) return undefined
  const column = (unit: number) => steps.map(step => step[unit] ?? NaN)
  const { instruments } = precisionOfThree(column(0), column(1), column(2))
  return instruments.map(({ errorVariance, errorVarianceSd }, unit) => {
    const isSeen = errorVariance > TOLD_APART * errorVarianceSd
    // A step has the variance of two values.
    const ofTolerance = isSeen ? roundTo(Math.sqrt(errorVariance / 2), DIGITS.tolerances) : null
    return { analyzer: names[unit] ?? '', ofTolerance }
  })
}

/** Steps of the deviations from one window to the next, in tolerances; a row per pair, a value per unit. */
function stepsOf({ differences, fold }: PointState): number[][] {
  const steps: number[][] = []
  for (let k = 1; k < differences.length; k++) {
    const [before, after] = [differences[k - 1], differences[k]]
    if (before === undefined || after === undefined || after.atMs - before.atMs !== WINDOW_MS) continue
    const isWorked = (atMs: number) => atMs > before.atMs - WINDOW_MS && atMs <= after.atMs
    if (fold.units.some(unit => unit.works.some(work => isWorked(work.atMs)))) continue
    const step = after.deviationsNtu.map((value, unit) => {
      const earlier = before.deviationsNtu[unit]
      return value === null || earlier == null ? NaN : value / after.toleranceNtu - earlier / before.toleranceNtu
    })
    if (step.some(Number.isNaN)) continue
    steps.push(step)
    k++ // the later window is used up
  }
  return steps
}
