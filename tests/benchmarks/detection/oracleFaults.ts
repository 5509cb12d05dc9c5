import type { Shape } from '../../../src/diagnose/hypothesis.js'
import { type FaultKind, type FleetPoint, sizeFor } from './fleet.js'
import { DAYS_TO_TOLERANCE, STEP, WATERS_OF } from './grid.js'

/** One way in which the grid lets a point go wrong, but for the unit and the onset. */
export interface FaultFamily {
  readonly kind: FaultKind
  readonly shape: Shape
  /** The bias grows with this power of its age. */
  readonly power: 0 | 1 | 2
  readonly common: boolean
  /** Sizes at an age of one day, signed, NTU or a fraction; all equally probable. */
  readonly sizes: readonly number[]
  /** Up to a factor common to all families of the point. */
  readonly prior: number
}

const STEP_SIZES = 40
const POWER = { step: 0, ramp: 1, growth: 2 } as const

/** Troubles are drawn alike; these are their parts, with the share of each within its trouble. */
const DRAWN: readonly { kind: FaultKind; shape: Shape; common: boolean; share: number }[] = [
  { kind: 'zero', shape: 'ramp', common: false, share: 1 },
  { kind: 'span', shape: 'ramp', common: false, share: 1 },
  { kind: 'fouling', shape: 'ramp', common: false, share: 0.5 },
  { kind: 'fouling', shape: 'growth', common: false, share: 0.5 },
  { kind: 'zero', shape: 'step', common: false, share: 0.5 },
  { kind: 'span', shape: 'step', common: false, share: 0.5 },
  { kind: 'zero', shape: 'ramp', common: true, share: 0.5 },
  { kind: 'span', shape: 'ramp', common: true, share: 0.5 },
]

/** What the grid may have drawn for a point of this water with so many units; by Bayes, since the kind picks the water. */
export function drawnFamilies(point: Pick<FleetPoint, 'water' | 'units'>): readonly FaultFamily[] {
  return DRAWN.filter(one => WATERS_OF[one.kind].includes(point.water) && (point.units > 1 || !one.common)).map(
    ({ kind, shape, common, share }) => ({
      kind,
      shape,
      power: POWER[shape],
      common,
      prior: share / WATERS_OF[kind].length,
      sizes: magnitudes(point, kind, shape).flatMap(size => (kind === 'fouling' ? [size] : [size, -size])),
    }),
  )
}

function magnitudes(point: Pick<FleetPoint, 'water'>, kind: FaultKind, shape: Shape): number[] {
  if (shape !== 'step') {
    const size = sizeFor(point, kind, 1)
    return DAYS_TO_TOLERANCE.map(days => size / (shape === 'growth' ? days * days : days))
  }
  const width = (STEP.most - STEP.least) / STEP_SIZES
  return Array.from({ length: STEP_SIZES }, (_, k) => sizeFor(point, kind, STEP.least + (k + 0.5) * width))
}
