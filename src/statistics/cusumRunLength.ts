import { expectedSteps } from './absorbingChain.js'
import { cusumChain, cusumMesh, fillMoves, type CappedChart, type CusumMesh } from './cusumMesh.js'
import { assertPositive } from './finite.js'

/** An upper tabular CUSUM of independent normal values with standard deviation 1. */
export interface OneSidedChart {
  /** Reference value, in sigma. */
  readonly k: number
  /** Limit, in sigma; the chart signals strictly above it. */
  readonly h: number
  /** Mean of the values, in sigma. */
  readonly shift: number
  /** Sum before the first value, 0 to h, in sigma; 0 if left out. */
  readonly headStart?: number
}

/** Longer runs count as endless: a value each second for longer than the age of the universe. */
export const LONGEST_RUN = 1e18

/**
 * Average run length, the signalling value included: L(s) = 1 + Φ(k − μ − s)·L(0) + ∫₀ʰ L(y)·φ(y + k − μ − s) dy,
 * solved at Gauss–Legendre nodes (Nyström; Vance 1986, Journal of Quality Technology 18:189).
 * @returns number of values; Infinity above 1e18  @throws RangeError naming what is out of range
 */
export function oneSidedArl(chart: OneSidedChart): number {
  return cappedArl({ ...chart, cap: Infinity })
}

/**
 * The same with every increment x − k cut at cap, as advanceCusum does.
 * @throws RangeError naming what is out of range
 */
export function cappedArl({ headStart = 0, ...chart }: OneSidedChart & { readonly cap: number }): number {
  assertChart(chart, headStart)
  const mesh = cusumMesh(chart)
  const fromState = expectedSteps(cusumChain(mesh))
  const fromZero = fromState[0]!
  if (!(fromZero > 0 && fromZero < LONGEST_RUN)) return Infinity
  if (headStart === 0) return fromZero
  const row = new Float64Array(fromState.length)
  fillMoves(mesh, headStart, row)
  return row.reduce((sum, move, i) => sum + move * fromState[i]!, 1)
}

/**
 * Average run length of an upper and a lower chart run together, each starting at headStart; increments capped if cap is
 * given. Combined by combineSides; with no head start the harmonic sum.
 * @throws RangeError naming what is out of range
 */
export function twoSidedArl({ cap = Infinity, ...chart }: OneSidedChart & { readonly cap?: number }): number {
  assertTwoSided(chart)
  const side = (shift: number) => ({
    fromZero: cappedArl({ ...chart, cap, shift, headStart: 0 }),
    fromStart: cappedArl({ ...chart, cap, shift }),
  })
  return combineSides(side(chart.shift), side(-chart.shift))
}

/** Average run lengths of one side alone. */
export interface SideArl {
  readonly fromZero: number
  /** From where the sum stands, or averaged over where it may stand. */
  readonly fromStart: number
}

/**
 * Run lengths of one side alone, from zero and averaged over where its sum stands.
 * @param standing probabilities of the states of the mesh, adding up to one
 */
export function sideArl(mesh: CusumMesh, standing: Float64Array): SideArl {
  const fromState = expectedSteps(cusumChain(mesh))
  const fromZero = fromState[0]!
  if (!(fromZero > 0 && fromZero < LONGEST_RUN)) return { fromZero: Infinity, fromStart: Infinity }
  return { fromZero, fromStart: standing.reduce((sum, mass, i) => sum + mass * fromState[i]!, 0) }
}

/**
 * (U·l₀ + u₀·L − u₀·l₀)/(u₀ + l₀) from the one-sided run lengths u₀, l₀ from zero and U, L from the start (Lucas and
 * Crosier 1982, Technometrics 24:199, appendix). It holds because whenever one side signals first the other stands at
 * zero, and because what counts of the start is how each sum stands, not how they stand together.
 */
export function combineSides(upper: SideArl, lower: SideArl): number {
  const [fast, slow] = upper.fromZero <= lower.fromZero ? [upper, lower] : [lower, upper]
  if (fast.fromZero === Infinity) return Infinity
  // Divided by the longer run length, which may be infinite, so that nothing overflows.
  const slowShare = slow.fromZero === Infinity ? 1 : slow.fromStart / slow.fromZero
  return (slowShare * fast.fromZero + fast.fromStart - fast.fromZero) / (1 + fast.fromZero / slow.fromZero)
}

/**
 * Where the sides do not reset each other (k below 0, or a head start from which one can signal while the other still
 * stands above zero) two one-sided charts say nothing of the two together.
 * @throws RangeError naming what is out of range
 */
export function assertTwoSided({ k, h, headStart = 0 }: Pick<OneSidedChart, 'k' | 'h' | 'headStart'>): void {
  if (!(k >= 0)) throw new RangeError(`k of a two-sided chart must be 0 or more, got ${k}`)
  if (headStart > h / 2 + k)
    throw new RangeError(`headStart of a two-sided chart must be at most h/2 + k, got ${headStart}`)
}

/** @throws RangeError naming what is out of range */
export function assertChart({ k, h, shift, cap }: CappedChart, headStart: number): void {
  if (!Number.isFinite(k)) throw new RangeError(`k must be a finite number, got ${k}`)
  if (!Number.isFinite(shift)) throw new RangeError(`shift must be a finite number, got ${shift}`)
  assertPositive('h', h)
  if (!(cap > 0)) throw new RangeError(`cap must be above 0, got ${cap}`)
  if (!(headStart >= 0 && headStart <= h)) throw new RangeError(`headStart must be from 0 to h, got ${headStart}`)
}
