import { atShift, type CusumMesh, cusumChain, cusumMesh } from './cusumMesh.js'
import { assertChart, assertTwoSided, combineSides, sideArl } from './cusumRunLength.js'
import { distance, nextStep, nextTwoSidedStep, type Standing, type Step } from './cusumStanding.js'

/** A chart that has run long without a signal when its mean moves. Unit: sigma of the values. */
export interface SteadyChart {
  readonly k: number
  readonly h: number
  /** Mean of the values from now on. */
  readonly shift: number
  /** Mean so far; 0 if left out. */
  readonly shiftBefore?: number
  /** Largest rise in one step; none if left out. */
  readonly cap?: number
}

// Largest change of a state's probability in one step when the chart counts as having run long.
const STEADY = 1e-14

/**
 * Conditional steady-state run length of the upper CUSUM: values from the shift to the signal, averaged over where the
 * sum stands when it has long not signalled (its quasi-stationary law; Crosier 1986, Technometrics 28:187).
 * @returns number of values; Infinity above 1e18
 * @throws RangeError naming what is out of range, or where no chart outlives shiftBefore
 */
export function steadyStateArl(request: SteadyChart): number {
  const { mesh, before, after } = checked(request, 1)
  const chain = cusumChain(atShift(mesh, before))
  const standing = settled(atZero(mesh), law => nextStep(chain, law), distance, before)
  return sideArl(atShift(mesh, after), standing).fromStart
}

/** The same for an upper and a lower CUSUM run together, neither of which has signalled for long. */
export function twoSidedSteadyStateArl(request: SteadyChart): number {
  assertTwoSided(request)
  const upper = checked(request, 1)
  const lower = checked(request, -1)
  const chains = [cusumChain(atShift(upper.mesh, upper.before)), cusumChain(atShift(lower.mesh, lower.before))] as const
  const standing = settled(
    { upper: atZero(upper.mesh), lower: atZero(lower.mesh) },
    law => nextTwoSidedStep(...chains, law),
    (a, b) => Math.max(distance(a.upper, b.upper), distance(a.lower, b.lower)),
    upper.before,
  )
  return combineSides(
    sideArl(atShift(upper.mesh, upper.after), standing.upper),
    sideArl(atShift(lower.mesh, lower.after), standing.lower),
  )
}

/** Steps the law of charts that do not signal until it no longer changes. */
function settled<Law>(
  start: Law,
  advance: (law: Law) => Step<Law>,
  change: (a: Law, b: Law) => number,
  shiftBefore: number,
): Law {
  let law = start
  for (;;) {
    const { standing, hazard } = advance(law)
    if (hazard === 1) throw new RangeError(`shiftBefore must leave charts that do not signal, got ${shiftBefore}`)
    if (change(standing, law) <= STEADY) return standing
    law = standing
  }
}

function checked(
  { k, h, shift, shiftBefore = 0, cap = Infinity }: SteadyChart,
  side: 1 | -1,
): { readonly mesh: CusumMesh; readonly before: number; readonly after: number } {
  if (!Number.isFinite(shiftBefore)) throw new RangeError(`shiftBefore must be a finite number, got ${shiftBefore}`)
  const before = side * shiftBefore
  const after = side * shift
  const chart = { k, h, cap, shift: Math.max(before, after) }
  assertChart({ ...chart, shift }, 0)
  return { mesh: cusumMesh(chart), before, after }
}

function atZero(mesh: CusumMesh): Standing {
  const standing = new Float64Array(mesh.values.length)
  standing[0] = 1
  return standing
}
