import { exp } from './distributions.js'
import { assertPositive } from './finite.js'
import { gaussLegendre } from './gaussLegendre.js'

export interface TruncatedNormal {
  /** Mean and standard deviation before the cut. */
  readonly mean: number
  readonly sd: number
  /** May be −Infinity. */
  readonly lower: number
  /** Above lower; may be Infinity. */
  readonly upper: number
}

const PANELS = 8
const NODES = 16
// Density below e^−45 of its peak cannot show in the moments.
const CUT = 45

/**
 * Mean and variance of a normal distribution cut to lower…upper. Integrated from the peak of what is left, so that it
 * holds where both ends lie far out in one tail and the usual quotient of densities and probabilities is 0/0.
 * @throws RangeError naming what is out of range
 */
export function truncatedNormalMoments({ mean, sd, lower, upper }: TruncatedNormal): {
  mean: number
  variance: number
} {
  if (!Number.isFinite(mean)) throw new RangeError(`mean must be a finite number, got ${mean}`)
  assertPositive('sd', sd)
  if (!(lower < upper)) throw new RangeError(`upper must be above lower ${lower}, got ${upper}`)
  const peak = Math.max(lower, Math.min(upper, mean))
  const peakZ = (peak - mean) / sd
  const from = Math.max((lower - peak) / sd, -reach(-peakZ))
  const to = Math.min((upper - peak) / sd, reach(peakZ))
  const { t, mass } = massesAround(peakZ, from, to)
  let total = 0
  let first = 0
  for (let i = 0; i < t.length; i++) {
    total += mass[i]!
    first += mass[i]! * t[i]!
  }
  const center = first / total
  let spread = 0
  for (let i = 0; i < t.length; i++) spread += mass[i]! * (t[i]! - center) * (t[i]! - center)
  const inside = Math.max(lower, Math.min(upper, peak + sd * center))
  return { mean: inside, variance: (sd * sd * spread) / total }
}

// Steps t > 0 away from the peak at z until z·t + t²/2 = CUT; zero or less where the density rises that way.
function reach(z: number): number {
  return z < 0 ? Infinity : (2 * CUT) / (z + Math.sqrt(z * z + 2 * CUT))
}

function massesAround(peakZ: number, from: number, to: number): { t: number[]; mass: number[] } {
  const { nodes, weights } = gaussLegendre(NODES)
  const half = (to - from) / (2 * PANELS)
  const t: number[] = []
  const mass: number[] = []
  for (let panel = 0; panel < PANELS; panel++) {
    for (let i = 0; i < NODES; i++) {
      const at = from + half * (2 * panel + 1 + nodes[i]!)
      t.push(at)
      mass.push(weights[i]! * exp(-at * (peakZ + at / 2)))
    }
  }
  return { t, mass }
}
