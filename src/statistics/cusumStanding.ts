import type { AbsorbingChain } from './absorbingChain.js'
import { type CusumMesh, fillMoves } from './cusumMesh.js'

/** Where the sum of a chart that has not signalled stands: probabilities of the states of its mesh, adding up to one. */
export type Standing = Float64Array<ArrayBuffer>

/** Of a two-sided chart: how each sum stands while neither side has signalled. */
export interface TwoSidedStanding {
  readonly upper: Standing
  readonly lower: Standing
}

/** After one more value. */
export interface Step<Law> {
  readonly standing: Law
  /** Probability that this value brought the signal, if none came before. */
  readonly hazard: number
}

/** Unscaled outcome of one value for one side. */
interface Spread {
  readonly masses: Standing
  readonly signalled: number
}

/** The first value of a chart whose sum is start. */
export function firstStep(mesh: CusumMesh, start: number): Step<Standing> {
  return toStep(spreadFrom(mesh, start))
}

export function nextStep(chain: AbsorbingChain, standing: Standing): Step<Standing> {
  return toStep(spread(chain, standing))
}

/** The first value of a two-sided chart whose sums both are start. */
export function firstTwoSidedStep(upper: CusumMesh, lower: CusumMesh, start: number): Step<TwoSidedStanding> {
  return toTwoSidedStep(spreadFrom(upper, start), spreadFrom(lower, start))
}

export function nextTwoSidedStep(
  upper: AbsorbingChain,
  lower: AbsorbingChain,
  standing: TwoSidedStanding,
): Step<TwoSidedStanding> {
  return toTwoSidedStep(spread(upper, standing.upper), spread(lower, standing.lower))
}

/** Largest difference between two laws over the same states. */
export function distance(a: Standing, b: Standing): number {
  return a.reduce((largest, mass, i) => Math.max(largest, Math.abs(mass - b[i]!)), 0)
}

function spreadFrom(mesh: CusumMesh, start: number): Spread {
  const masses = new Float64Array(mesh.values.length)
  return { signalled: fillMoves(mesh, start, masses), masses }
}

function spread({ n, moves, absorption }: AbsorbingChain, standing: Standing): Spread {
  const masses = new Float64Array(n)
  let signalled = 0
  for (let i = 0; i < n; i++) {
    const mass = standing[i]!
    signalled += mass * absorption[i]!
    for (let j = 0; j < n; j++) masses[j] = masses[j]! + mass * moves[i * n + j]!
  }
  return { masses, signalled }
}

// Scaled to one each time, so that what quadrature adds or loses does not pile up, and the hazard keeps its digits
// however small it is.
function toStep({ masses, signalled }: Spread): Step<Standing> {
  const total = sumOf(masses)
  return { standing: scaled(masses, total), hazard: signalled / (signalled + total) }
}

// When a side signals the other stands at zero: those charts leave its law there.
function toTwoSidedStep(upper: Spread, lower: Spread): Step<TwoSidedStanding> {
  upper.masses[0] = Math.max(0, upper.masses[0]! - lower.signalled)
  lower.masses[0] = Math.max(0, lower.masses[0]! - upper.signalled)
  const signalled = upper.signalled + lower.signalled
  const total = sumOf(upper.masses)
  return {
    standing: { upper: scaled(upper.masses, total), lower: scaled(lower.masses, sumOf(lower.masses)) },
    hazard: signalled / (signalled + total),
  }
}

function sumOf(masses: Standing): number {
  return masses.reduce((sum, mass) => sum + mass, 0)
}

// Where every chart has signalled the law is of no consequence, but it must stay a number.
function scaled(masses: Standing, total: number): Standing {
  return total > 0 ? masses.map(mass => mass / total) : masses
}
