import { atShift, type CusumMesh, cusumChain, cusumMesh } from './cusumMesh.js'
import { assertChart, assertTwoSided } from './cusumRunLength.js'
import { firstStep, firstTwoSidedStep, nextStep, nextTwoSidedStep, type Step } from './cusumStanding.js'
import { assertPositive } from './finite.js'

/** A chart of values whose mean grows by the same amount with each one. Unit: sigma of the values. */
export interface DriftingChart {
  readonly k: number
  readonly h: number
  /** Above 0. */
  readonly driftPerValue: number
  /** Mean of the first value; 0 if left out. */
  readonly firstMean?: number
  /** Largest rise in one step; none if left out. */
  readonly cap?: number
  /** Sum before the first value, 0 to h; 0 if left out. */
  readonly headStart?: number
}

// Below it what is left adds nothing to the digits of a run length.
const NOBODY = 1e-14

/**
 * Average run length of the upper CUSUM under a linear drift (Gan 1992, Journal of Statistical Computation and
 * Simulation 42:121): the delay to detect slow drift.
 * @returns number of values, the signalling one included  @throws RangeError naming what is out of range
 */
export function driftArl(chart: DriftingChart): number {
  const { mesh, firstMean, headStart } = driftMesh(chart)
  return meanRunLength(firstStep(atShift(mesh, firstMean), headStart), (standing, n) =>
    nextStep(cusumChain(atShift(mesh, firstMean + n * chart.driftPerValue)), standing),
  )
}

/** The same for an upper and a lower CUSUM run together, each starting at headStart. */
export function twoSidedDriftArl(chart: DriftingChart): number {
  assertTwoSided(chart)
  const { mesh, firstMean, headStart } = driftMesh(chart)
  const sides = (mean: number) => [atShift(mesh, mean), atShift(mesh, -mean)] as const
  return meanRunLength(firstTwoSidedStep(...sides(firstMean), headStart), (standing, n) => {
    const [upper, lower] = sides(firstMean + n * chart.driftPerValue)
    return nextTwoSidedStep(cusumChain(upper), cusumChain(lower), standing)
  })
}

function driftMesh({ k, h, driftPerValue, firstMean = 0, cap = Infinity, headStart = 0 }: DriftingChart): {
  readonly mesh: CusumMesh
  readonly firstMean: number
  readonly headStart: number
} {
  assertPositive('driftPerValue', driftPerValue)
  if (!Number.isFinite(firstMean)) throw new RangeError(`firstMean must be a finite number, got ${firstMean}`)
  assertChart({ k, h, cap, shift: 0 }, headStart)
  // Made for a mean beyond every limit, because sooner or later it will matter that steps are capped.
  return { mesh: cusumMesh({ k, h, cap, shift: Infinity }), firstMean, headStart }
}

/** @param advance one more value after n of them */
function meanRunLength<Law>(first: Step<Law>, advance: (standing: Law, n: number) => Step<Law>): number {
  let { standing } = first
  let alive = 1 - first.hazard
  let arl = 1
  for (let n = 1; alive > NOBODY; n++) {
    arl += alive
    const step = advance(standing, n)
    standing = step.standing
    alive *= 1 - step.hazard
  }
  return arl
}
