import { expectedSteps } from './absorbingChain.js'
import { LONGEST_RUN } from './cusumRunLength.js'
import { ln, normalCdf, normalPdf, normalQuantile, normalUpperTail } from './distributions.js'
import { assertPositive } from './finite.js'
import { gaussLegendre, type QuadratureRule } from './gaussLegendre.js'
import { increasingRoot } from './increasingRoot.js'

/** 'varying' limits follow the exact variance of z after each value; 'fixed' ones are those they settle at. */
export type EwmaLimits = 'fixed' | 'varying'

/**
 * Two-sided EWMA z ← (1 − λ)z + λx of independent x ~ N(shift, 1) from z = 0; signal when |z| > c·√(λ/(2 − λ)), times
 * √(1 − (1 − λ)²ⁿ) after n values where limits vary.
 */
export interface EwmaChart {
  /** λ, weight of the newest value. */
  readonly lambda: number
  /** Limit in standard deviations of z. */
  readonly c: number
  /** Mean of the values, in sigma. */
  readonly shift: number
  readonly limits: EwmaLimits
}

// Below it the limits need thousands of values to settle, and no chart is run so.
const LEAST_LAMBDA = 0.01
// Nodes of the rule on the whole width. With these run lengths agree to 1e-10 with solutions of 300 nodes.
const LEAST_NODES = 12
const NODES_PER_SIGMA = 1.25
// Share by which varying limits still differ from the fixed ones when they count as settled.
const SETTLED = 1e-9
// φ(9) is 1e-18.
const DENSITY_IS_ZERO_BEYOND = 9
const SHORTEST_ARL = 1.01
const LONGEST_ARL = 1e12

/**
 * Average run length, the signalling value included. Fixed limits ±b: L(z) = 1 + ∫ L(y)·φ((y − (1 − λ)z)/λ − μ)/λ dy
 * over −b to b at Gauss–Legendre nodes (Crowder 1987, Technometrics 29:401). Varying limits: the same equation, each
 * integral up to the limit of its own value, stepped backwards from where they have settled.
 * @returns number of values; Infinity above 1e18  @throws RangeError naming what is out of range
 */
export function ewmaArl(chart: EwmaChart): number {
  assertChart(chart)
  const { lambda, c, limits } = chart
  const settled = c * Math.sqrt(lambda / (2 - lambda))
  const grid = gaussLegendre(LEAST_NODES + 2 * Math.ceil((NODES_PER_SIGMA * settled) / lambda))
  let runLengths = fixedRunLengths(chart, settled, grid)
  let limit = settled
  if (limits === 'varying') {
    const limitsUpward = varyingLimits(lambda, settled)
    for (let n = limitsUpward.length - 1; n >= 0; n--) {
      const before = limitsUpward[n]!
      const starts = grid.nodes.map(node => node * before)
      runLengths = starts.map(z => oneStepBefore(chart, z, limit, grid, runLengths))
      limit = before
    }
  }
  const arl = oneStepBefore(chart, 0, limit, grid, runLengths)
  return arl > 0 && arl < LONGEST_RUN ? arl : Infinity
}

/**
 * Limit c of the EWMA with the run length asked for when the mean is on target.
 * @returns standard deviations of z, 6 significant digits  @throws RangeError naming what is out of range
 */
export function solveEwmaLimit({
  lambda,
  arl,
  limits,
}: {
  readonly lambda: number
  readonly arl: number
  readonly limits: EwmaLimits
}): number {
  if (!(arl >= SHORTEST_ARL && arl <= LONGEST_ARL)) throw new RangeError(`arl must be from 1.01 to 1e12, got ${arl}`)
  const target = ln(arl)
  const missAt = (c: number, at: EwmaLimits) => ln(ewmaArl({ lambda, c, shift: 0, limits: at })) - target
  // λ = 1 is the chart of single values, whose limit is a quantile; smaller λ need less.
  const single = -normalQuantile(1 / (2 * arl))
  const slope = 1 + single
  const fixed = increasingRoot(c => missAt(c, 'fixed'), { low: 0, start: single, slope })
  // Fixed limits are solved in a hundredth of the time, and varying ones lie near.
  const c = limits === 'fixed' ? fixed : increasingRoot(x => missAt(x, limits), { low: 0, start: fixed, slope })
  return Number(c.toPrecision(6))
}

function fixedRunLengths(
  { lambda, shift }: EwmaChart,
  limit: number,
  { nodes, weights }: QuadratureRule,
): Float64Array {
  const n = nodes.length
  const moves = new Float64Array(n * n)
  const absorption = new Float64Array(n)
  const scale = limit / lambda
  for (let i = 0; i < n; i++) {
    const center = ((1 - lambda) * limit * nodes[i]!) / lambda + shift
    absorption[i] = normalUpperTail(scale - center) + normalCdf(-scale - center)
    for (let j = 0; j < n; j++) moves[i * n + j] = scale * weights[j]! * normalPdf(scale * nodes[j]! - center)
  }
  return expectedSteps({ n, moves, absorption })
}

/** Run length from z, where those from the next value's z are known at the nodes of −limit to limit. */
function oneStepBefore(
  { lambda, shift }: EwmaChart,
  z: number,
  limit: number,
  { nodes, weights }: QuadratureRule,
  after: Float64Array,
): number {
  const scale = limit / lambda
  const center = ((1 - lambda) * z) / lambda + shift
  let sum = 1
  for (let j = 0; j < nodes.length; j++) {
    const x = scale * nodes[j]! - center
    if (Math.abs(x) < DENSITY_IS_ZERO_BEYOND) sum += scale * weights[j]! * normalPdf(x) * after[j]!
  }
  return sum
}

// Limits after the first value, the second and so on, up to the last that differs from the settled one.
function varyingLimits(lambda: number, settled: number): readonly number[] {
  const limits: number[] = []
  const shrink = (1 - lambda) * (1 - lambda)
  for (let left = shrink; left > SETTLED; left *= shrink) limits.push(settled * Math.sqrt(1 - left))
  return limits
}

function assertChart({ lambda, c, shift }: EwmaChart): void {
  if (!(lambda >= LEAST_LAMBDA && lambda <= 1))
    throw new RangeError(`lambda must be from ${LEAST_LAMBDA} to 1, got ${lambda}`)
  assertPositive('c', c)
  if (!Number.isFinite(shift)) throw new RangeError(`shift must be a finite number, got ${shift}`)
}
