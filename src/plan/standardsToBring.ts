import type { UnitFold } from '../core/pointState.js'
import type { Plant } from '../model/plant.js'
import { zeroMethodFor } from '../recommend/decide.js'
import { isExpired, labelOf, ownSecondary } from '../recommend/standards.js'
import type { Bring, PlannedWork } from './visitPlan.js'

const WITH_ZERO: ReadonlySet<PlannedWork> = new Set([
  'zero',
  'zero_and_span',
  'span',
  'inspect',
  'calibrate_primary',
  'calibration',
])
const WITH_SECONDARY: ReadonlySet<PlannedWork> = new Set([...WITH_ZERO, 'verification', 'visit', 'verify'])
const WITH_PRIMARY: ReadonlySet<PlannedWork> = new Set(['calibrate_primary', 'calibration'])

/** The standards that the jobs of a visit need, each with what is wrong with it at the time of the visit. */
export function standardsToBring(
  plant: Plant,
  analyzer: string,
  unit: UnitFold,
  works: readonly PlannedWork[],
  visitMs: number,
): Bring[] {
  const needs = (set: ReadonlySet<PlannedWork>): boolean => works.some(work => set.has(work))
  const takesZeroWater = zeroMethodFor(plant, unit.levelNtu ?? 0) === 'zero_water'
  return [
    ...(needs(WITH_ZERO) && takesZeroWater ? [{ type: 'zero_water' as const }] : []),
    ...(needs(WITH_SECONDARY) ? [secondary(plant, analyzer, unit, visitMs)] : []),
    ...(needs(WITH_PRIMARY) ? primaries(plant, visitMs) : []),
  ]
}

function secondary(plant: Plant, analyzer: string, unit: UnitFold, visitMs: number): Bring {
  const own = ownSecondary(analyzer, plant, unit.work.standards)
  if (own === undefined) return { type: 'secondary_standard', note: `none is assigned on ${analyzer}: assign one` }
  const note =
    dateNote(own.expires, visitMs) ??
    (own.outdatedBy === null ? undefined : 'its value was assigned before the last calibration: assign it anew')
  return {
    type: 'secondary_standard',
    ...labelOf(own),
    ...(note === undefined ? {} : { note }),
  }
}

function primaries(plant: Plant, visitMs: number): Bring[] {
  const known = plant.standards.filter(one => one.type === 'primary_standard')
  if (known.length === 0) return [{ type: 'primary_standard', note: 'none is in the register' }]
  return known.map(standard => {
    const note = dateNote(standard.expires, visitMs)
    return {
      type: 'primary_standard',
      ...labelOf(standard),
      ...(note === undefined ? {} : { note }),
    }
  })
}

function dateNote(expires: string | undefined, visitMs: number): string | undefined {
  return isExpired(expires, visitMs) ? 'past its date at the visit: renew it before' : undefined
}
