import type { PlantState } from '../../../src/core/plantState.js'
import { effectAt } from '../../../src/diagnose/hypothesis.js'
import { exp, ln } from '../../../src/statistics/distributions.js'
import { dayOf, type FaultKind, type FleetPoint } from './fleet.js'
import { layOutSeries, type Series, snapshotsOf, type SupposedBias } from './oracleEvidence.js'
import { ONSET_DAYS } from './grid.js'
import { drawnFamilies, type FaultFamily } from './oracleFaults.js'
import { whiten } from './oracleNoise.js'

/** Probabilities given that the point has a fault that has begun. */
export interface OracleView {
  readonly kinds: Readonly<Record<FaultKind, number>>
  /** Of each unit in the order of the point, then of all at once. */
  readonly who: readonly number[]
}

/** Onset bins by how fine one looks; a longer one does for what grows, of which a day is not much. */
const BIN_DAYS = { rough: { step: 0.5, growing: 1 }, fine: { step: 0.125, growing: 0.25 } } as const

/**
 * What the best statistician would say who knows how the plants of the grid are drawn, of the evidence that the core
 * holds of a point: the exact posterior of who and what, by Gaussian likelihood over every fault the grid may draw.
 * The level of the water is read twice, the second time less the bias of the best explanation of the first.
 * @param atMs evidence and onsets are of before
 */
export function oracleView(state: PlantState, point: FleetPoint, atMs: number): OracleView {
  const held = state.points.get(point.id)
  if (held === undefined) throw new RangeError(`point must be one of the state's, got ${point.id}`)
  const snapshots = snapshotsOf(
    point,
    held.pairs.filter(pair => pair.dueMs <= atMs),
    held.differences.filter(difference => difference.atMs <= atMs),
  )
  const first = weigh(point, layOutSeries(point, snapshots, null), dayOf(atMs), 'rough')
  return viewOf(point, weigh(point, layOutSeries(point, snapshots, biasOf(first)), dayOf(atMs), 'fine'))
}

/** One family, suspect and onset, all sizes. */
interface Weighed {
  readonly family: FaultFamily
  /** A unit, or the number of units for all. */
  readonly who: number
  readonly units: number
  readonly onsetDay: number
  readonly logWeight: number
  readonly likeliestSize: number
}

function weigh(point: FleetPoint, series: readonly Series[], nowDay: number, look: keyof typeof BIN_DAYS): Weighed[] {
  const found: Weighed[] = []
  const families = drawnFamilies(point)
  for (const kind of ['zero', 'span', 'fouling'] as const) {
    for (const power of [0, 1, 2] as const) {
      const alike = families.filter(family => family.kind === kind && family.power === power)
      if (alike.length === 0) continue
      for (const { onsetDay, widthDays } of onsets(nowDay, BIN_DAYS[look][power === 0 ? 'step' : 'growing'])) {
        const parts = series.map(one => project(one, kind, power, onsetDay))
        for (const family of alike) {
          for (const who of family.common ? [point.units] : Array.from({ length: point.units }, (_, unit) => unit)) {
            const prior = (family.prior / (family.common ? 1 : point.units)) * widthDays
            found.push(scoreSizes(family, who, point.units, onsetDay, prior, parts))
          }
        }
      }
    }
  }
  return found
}

function onsets(nowDay: number, binDays: number): { onsetDay: number; widthDays: number }[] {
  const last = Math.max(ONSET_DAYS.first + binDays, Math.min(ONSET_DAYS.last, nowDay))
  const bins = Math.ceil((last - ONSET_DAYS.first) / binDays)
  const widthDays = (last - ONSET_DAYS.first) / bins
  return Array.from({ length: bins }, (_, k) => ({ onsetDay: ONSET_DAYS.first + (k + 0.5) * widthDays, widthDays }))
}

/** Sums for an effect of size one on one unit, before the turn over the units: f'C⁻¹f, and f'C⁻¹y by direction. */
interface Projection {
  readonly ff: number
  readonly fy: readonly { readonly weights: readonly number[]; readonly sum: number }[]
}

function project(series: Series, kind: FaultKind, power: 0 | 1 | 2, onsetDay: number): Projection {
  const { observed, factor, directions } = series
  const begin = observed.findIndex(({ day }) => day > onsetDay)
  const first = begin < 0 ? observed.length : begin
  const effect = new Float64Array(observed.length)
  for (let i = first; i < observed.length; i++) {
    const { day, levelNtu, toleranceNtu } = observed[i]!
    effect[i] = (grown(power, day - onsetDay) * effectAt(kind, levelNtu)) / toleranceNtu
  }
  const white = whiten(factor, effect, first)
  return { ff: dot(white, white, first), fy: directions.map(one => ({ ...one, sum: dot(white, one.white, first) })) }
}

function scoreSizes(
  family: FaultFamily,
  who: number,
  units: number,
  onsetDay: number,
  prior: number,
  parts: readonly Projection[],
): Weighed {
  let ff = 0
  let fy = 0
  for (const part of parts) {
    for (const { weights, sum } of part.fy) {
      const weight = who === units ? weights.reduce((total, one) => total + one, 0) : weights[who]!
      ff += weight * weight * part.ff
      fy += weight * sum
    }
  }
  const logs = family.sizes.map(size => size * (fy - (size * ff) / 2))
  const most = Math.max(...logs)
  const total = logs.reduce((sum, log) => sum + exp(log - most), 0)
  const logWeight = ln(prior) + most + ln(total / logs.length)
  return { family, who, units, onsetDay, logWeight, likeliestSize: family.sizes[logs.indexOf(most)]! }
}

function biasOf(found: readonly Weighed[]): SupposedBias {
  const best = found.reduce((most, one) => (one.logWeight > most.logWeight ? one : most))
  const { family, who, units, onsetDay, likeliestSize } = best
  return (unit, day, levelNtu) =>
    day > onsetDay && (who === units || who === unit)
      ? likeliestSize * grown(family.power, day - onsetDay) * effectAt(family.kind, levelNtu)
      : 0
}

function viewOf(point: FleetPoint, found: readonly Weighed[]): OracleView {
  const most = found.reduce((top, one) => Math.max(top, one.logWeight), -Infinity)
  const kinds = { zero: 0, span: 0, fouling: 0 }
  const who = new Array<number>(point.units + 1).fill(0)
  let total = 0
  for (const one of found) {
    const weight = exp(one.logWeight - most)
    kinds[one.family.kind] += weight
    who[one.who]! += weight
    total += weight
  }
  return {
    kinds: { zero: kinds.zero / total, span: kinds.span / total, fouling: kinds.fouling / total },
    who: who.map(weight => weight / total),
  }
}

function grown(power: 0 | 1 | 2, ageDays: number): number {
  return power === 0 ? 1 : power === 1 ? ageDays : ageDays * ageDays
}

function dot(a: Float64Array, b: Float64Array, first: number): number {
  let sum = 0
  for (let i = first; i < a.length; i++) sum += a[i]! * b[i]!
  return sum
}
