import { CAP_FRACTION } from '../../../src/detect/chart.js'
import { advanceCusum } from '../../../src/statistics/cusum.js'
import { exp, ln } from '../../../src/statistics/distributions.js'
import { solveOneSidedLimit } from '../../../src/statistics/solveLimit.js'
import { askedArl, type ChartCell, DELTA0, type Noise } from './chartScenario.js'
import type { Watcher } from './chartWatcher.js'

/** Shifts the bounding charts are designed for, tolerances. */
export const DESIGN_SHIFTS: readonly number[] = [
  0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.8, 0.9, 1, 1.15, 1.3, 1.5, 1.75, 2, 2.25, 2.5,
]

/** Steps of the grid of distances for which limits are solved: 4 %. */
const GRID = 25

/**
 * The upper tabular CUSUM for a design shift when mean, sigma and phi are known and the bias may stand at delta0, on
 * innovations where values follow one another: the best one over all design shifts is what no chart of this kind beats.
 * @param noise the true one  @param isCapped whether one value may not bring it to its limit, as in the product
 */
export function boundWatcher(cell: ChartCell, noise: Noise, designShift: number, isCapped: boolean): Watcher {
  const toSigma = (1 - noise.phi) / noise.sigma
  const shift = toSigma * DELTA0
  const distance = onGrid((toSigma * (designShift - DELTA0)) / 2)
  const k = shift + distance
  const h = limitAt(distance, askedArl(cell), isCapped ? CAP_FRACTION : Infinity)
  const cap = isCapped ? CAP_FRACTION * h : Infinity
  // The value before the first is taken to be that of a line without error: one value of thirty days.
  const at = (sum: number, before: number): Watcher => ({
    take: (_, value) => {
      sum = advanceCusum(sum, (value - noise.phi * before) / noise.sigma - k, cap)
      before = value
      return sum > h
    },
    fork: () => at(sum, before),
    restart: () => {
      sum = 0
    },
  })
  return at(0, 0)
}

/** Only the distance from mean to reference value counts, so one limit does for every sigma and every shift. */
function limitAt(distance: number, arl: number, capFraction: number): number {
  const key = `${distance} ${arl} ${capFraction}`
  let h = solved.get(key)
  if (h === undefined) {
    h = solveOneSidedLimit({ k: distance, arl, capFraction })
    solved.set(key, h)
  }
  return h
}

const solved = new Map<string, number>()

function onGrid(distance: number): number {
  return exp(Math.round(ln(distance) * GRID) / GRID)
}
