import { atShift, type CusumMesh, cusumMesh } from './cusumMesh.js'
import { assertChart, assertTwoSided, combineSides, type OneSidedChart, sideArl } from './cusumRunLength.js'
import { firstStep, firstTwoSidedStep } from './cusumStanding.js'

/**
 * Chart of whitened values (x_t − φ·x_{t−1})/√(1 − φ²) of a first-order autoregression with standard deviation 1, whose
 * mean is shift from the first value on and was 0 before. k, h, headStart and cap are in sigma of the whitened values.
 */
export interface WhitenedChart extends OneSidedChart {
  /** Known lag-one autocorrelation φ, above −1 and below 1. */
  readonly phi: number
  /** Mean of the values before whitening, in their sigma. */
  readonly shift: number
  /** Largest rise in one step; none if left out. */
  readonly cap?: number
}

/**
 * Average run length of the upper CUSUM of whitened values. They are independent; the first has mean shift/√(1 − φ²),
 * since the value before it was not yet shifted, and those after it shift·√((1 − φ)/(1 + φ)) (Lu and Reynolds 2001,
 * Journal of Quality Technology 33:316).
 * @returns number of values; Infinity above 1e18  @throws RangeError naming what is out of range
 */
export function whitenedArl(chart: WhitenedChart): number {
  const { mesh, first, later, headStart } = checked(chart, 1)
  const step = firstStep(atShift(mesh, first), headStart)
  return step.hazard === 1 ? 1 : 1 + (1 - step.hazard) * sideArl(atShift(mesh, later), step.standing).fromStart
}

/** The same for an upper and a lower CUSUM run together, each starting at headStart. */
export function twoSidedWhitenedArl(chart: WhitenedChart): number {
  assertTwoSided(chart)
  const upper = checked(chart, 1)
  const lower = checked(chart, -1)
  const step = firstTwoSidedStep(atShift(upper.mesh, upper.first), atShift(lower.mesh, lower.first), upper.headStart)
  if (step.hazard === 1) return 1
  const remaining = combineSides(
    sideArl(atShift(upper.mesh, upper.later), step.standing.upper),
    sideArl(atShift(lower.mesh, lower.later), step.standing.lower),
  )
  return 1 + (1 - step.hazard) * remaining
}

function checked(
  { phi, k, h, shift, cap = Infinity, headStart = 0 }: WhitenedChart,
  side: 1 | -1,
): { readonly mesh: CusumMesh; readonly first: number; readonly later: number; readonly headStart: number } {
  if (!(phi > -1 && phi < 1)) throw new RangeError(`phi must be above -1 and below 1, got ${phi}`)
  assertChart({ k, h, shift, cap }, headStart)
  const first = (side * shift) / Math.sqrt((1 - phi) * (1 + phi))
  const later = side * shift * Math.sqrt((1 - phi) / (1 + phi))
  return { mesh: cusumMesh({ k, h, cap, shift: Math.max(first, later) }), first, later, headStart }
}
