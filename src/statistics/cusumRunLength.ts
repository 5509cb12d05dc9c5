import { expectedSteps } from './absorbingChain.js'
import { cusumChain, cusumMesh, fillMoves, type CappedChart } from './cusumMesh.js'
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
 * Average run length of an upper and a lower chart run together, each starting at headStart. From the one-sided run
 * lengths u₀, l₀ from zero and U, L from the head start: (U·l₀ + u₀·L − u₀·l₀)/(u₀ + l₀) (Lucas and Crosier 1982,
 * Technometrics 24:199, appendix); with no head start the harmonic sum.
 */
export function twoSidedArl(chart: OneSidedChart): number {
  const mirrored = { ...chart, shift: -chart.shift }
  const upper = { fromZero: oneSidedArl({ ...chart, headStart: 0 }), fromStart: oneSidedArl(chart) }
  const lower = { fromZero: oneSidedArl({ ...mirrored, headStart: 0 }), fromStart: oneSidedArl(mirrored) }
  const [fast, slow] = upper.fromZero <= lower.fromZero ? [upper, lower] : [lower, upper]
  if (fast.fromZero === Infinity) return Infinity
  // Divided by the longer run length, which may be infinite, so that nothing overflows.
  const slowShare = slow.fromZero === Infinity ? 1 : slow.fromStart / slow.fromZero
  return (slowShare * fast.fromZero + fast.fromStart - fast.fromZero) / (1 + fast.fromZero / slow.fromZero)
}

/** @throws RangeError naming what is out of range */
export function assertChart({ k, h, shift, cap }: CappedChart, headStart: number): void {
  if (!Number.isFinite(k)) throw new RangeError(`k must be a finite number, got ${k}`)
  if (!Number.isFinite(shift)) throw new RangeError(`shift must be a finite number, got ${shift}`)
  assertPositive('h', h)
  if (!(cap > 0)) throw new RangeError(`cap must be above 0, got ${cap}`)
  if (!(headStart >= 0 && headStart <= h)) throw new RangeError(`headStart must be from 0 to h, got ${headStart}`)
}
