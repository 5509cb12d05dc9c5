import { type CappedChart, cusumChain, cusumMesh } from './cusumMesh.js'
import { assertChart, assertTwoSided, LONGEST_RUN, type OneSidedChart } from './cusumRunLength.js'
import { distance, firstStep, firstTwoSidedStep, nextStep, nextTwoSidedStep, type Step } from './cusumStanding.js'
import { ln } from './distributions.js'

/** Chart and the probability p, above 0 and below 1, of the quantile; increments are capped at cap if that is given. */
export type QuantileRequest = OneSidedChart & { readonly p: number; readonly cap?: number }

// Beyond this change of a step the distribution over the sums stays as it is and the tail is geometric.
const STEADY = 1e-13

/**
 * Smallest n with P(run length ≤ n) ≥ p for the upper tabular CUSUM (Waldmann 1986, Technometrics 28:61, table 2).
 * @returns whole number of values; Infinity above 1e18
 * @throws RangeError naming what is out of range
 */
export function runLengthQuantile(request: QuantileRequest): number {
  const { chart, headStart } = checked(request)
  const mesh = cusumMesh(chart)
  const chain = cusumChain(mesh)
  return quantile(
    request.p,
    firstStep(mesh, headStart),
    standing => nextStep(chain, standing),
    (a, b) => distance(a, b),
  )
}

/**
 * The same for an upper and a lower CUSUM run together, each starting at headStart. Charts whose other side signalled
 * leave a side's law at zero, where that side stands then.
 * @throws RangeError naming what is out of range
 */
export function twoSidedRunLengthQuantile(request: QuantileRequest): number {
  assertTwoSided(request)
  const { chart, headStart } = checked(request)
  const upper = cusumMesh(chart)
  const lower = cusumMesh({ ...chart, shift: -chart.shift })
  const chains = [cusumChain(upper), cusumChain(lower)] as const
  return quantile(
    request.p,
    firstTwoSidedStep(upper, lower, headStart),
    standing => nextTwoSidedStep(...chains, standing),
    (a, b) => Math.max(distance(a.upper, b.upper), distance(a.lower, b.lower)),
  )
}

function checked({ p, headStart = 0, cap = Infinity, ...rest }: QuantileRequest): {
  readonly chart: CappedChart
  readonly headStart: number
} {
  if (!(p > 0 && p < 1)) throw new RangeError(`p must be above 0 and below 1, got ${p}`)
  const chart = { ...rest, cap }
  assertChart(chart, headStart)
  return { chart, headStart }
}

function quantile<Law>(
  p: number,
  first: Step<Law>,
  advance: (standing: Law) => Step<Law>,
  change: (a: Law, b: Law) => number,
): number {
  let { standing, hazard } = first
  let alive = 1 - hazard
  for (let n = 1; ; n++) {
    if (1 - alive >= p) return n
    const step = advance(standing)
    const hazardIsSteady = Math.abs(step.hazard - hazard) <= STEADY * hazard
    // A hazard too small for a number may be steady at zero while the sums still climb.
    if (hazardIsSteady && change(step.standing, standing) <= STEADY)
      return endless(n + geometricSteps((1 - p) / alive, hazard))
    standing = step.standing
    hazard = step.hazard
    alive *= 1 - hazard
  }
}

function endless(n: number): number {
  return n < LONGEST_RUN ? n : Infinity
}

// Least m with (1 − hazard)^m ≤ share.
function geometricSteps(share: number, hazard: number): number {
  if (hazard === 0) return Infinity
  const logStay = hazard < 1e-6 ? -hazard * (1 + hazard / 2) : ln(1 - hazard)
  return Math.max(0, Math.ceil(ln(share) / logStay))
}
