import type { AbsorbingChain } from './absorbingChain.js'
import { cusumChain, cusumMesh, fillMoves } from './cusumMesh.js'
import { assertChart, LONGEST_RUN, type OneSidedChart } from './cusumRunLength.js'
import { ln } from './distributions.js'
import { assertPositive } from './finite.js'

// Beyond this step the shape of the distribution over the sums no longer changes and the tail is geometric.
const STEADY = 1e-13

/**
 * Smallest n with P(run length ≤ n) ≥ p for the upper tabular CUSUM (Waldmann 1986, Technometrics 28:61, table 2).
 * @param chart with p, a probability above 0 and below 1
 * @returns whole number of values; Infinity above 1e18
 * @throws RangeError naming what is out of range
 */
export function runLengthQuantile({ p, headStart = 0, ...rest }: OneSidedChart & { readonly p: number }): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`p must be above 0 and below 1, got ${p}`)
  const chart = { ...rest, cap: Infinity }
  assertChart(chart, headStart)
  const mesh = cusumMesh(chart)
  const chain = cusumChain(mesh)
  let standing = new Float64Array(chain.n)
  const signalledAtOnce = fillMoves(mesh, headStart, standing)
  let alive = 1 - signalledAtOnce
  let hazard = signalledAtOnce
  for (let n = 1; ; n++) {
    if (1 - alive >= p) return n
    const step = advanceStanding(chain, standing)
    if (Math.abs(step.hazard - hazard) <= STEADY * hazard) return endless(n + geometricSteps((1 - p) / alive, hazard))
    standing = step.standing
    hazard = step.hazard
    alive *= 1 - hazard
  }
}

/**
 * Average run length when the mean grows by the same amount with each value, the first one having mean 0 (Gan 1992,
 * Journal of Statistical Computation and Simulation 42:121): the delay to detect slow drift.
 * @param k reference value  @param h limit  @param driftPerValue above 0; all in sigma
 * @throws RangeError naming what is out of range
 */
export function driftArl({
  k,
  h,
  driftPerValue,
}: {
  readonly k: number
  readonly h: number
  readonly driftPerValue: number
}): number {
  assertPositive('driftPerValue', driftPerValue)
  const chart = { k, h, shift: 0, cap: Infinity }
  assertChart(chart, 0)
  const mesh = cusumMesh(chart)
  let standing = new Float64Array(mesh.values.length)
  standing[0] = 1
  let alive = 1
  let arl = 0
  for (let n = 0; alive > 1e-14; n++) {
    arl += alive
    const chain = cusumChain({ ...mesh, chart: { ...mesh.chart, shift: n * driftPerValue } })
    const step = advanceStanding(chain, standing)
    standing = step.standing
    alive *= 1 - step.hazard
  }
  return arl
}

/**
 * One step of the distribution over the sums of charts that have not signalled. It is scaled to one each time, so that
 * what quadrature adds or loses does not pile up, and the hazard keeps its digits however small it is.
 */
function advanceStanding(
  { n, moves, absorption }: AbsorbingChain,
  standing: Float64Array,
): { standing: Float64Array<ArrayBuffer>; hazard: number } {
  const next = new Float64Array(n)
  let signalled = 0
  for (let i = 0; i < n; i++) {
    const mass = standing[i]!
    signalled += mass * absorption[i]!
    for (let j = 0; j < n; j++) next[j] = next[j]! + mass * moves[i * n + j]!
  }
  const total = next.reduce((sum, mass) => sum + mass, 0)
  return { standing: next.map(mass => mass / total), hazard: signalled / (signalled + total) }
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
