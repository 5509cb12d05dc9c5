import { median } from 'simple-statistics'
import type { Difference } from '../../../src/compare/difference.js'
import type { Pair } from '../../../src/compare/pair.js'
import { HOUR_MS } from '../../../src/model/time.js'
import { toleranceAt } from '../../../src/model/tolerance.js'
import { dayOf, type FleetPoint, WATER } from './fleet.js'
import { type Factor, factorise, laboratoryCovariance, type Observed, unitCovariance, whiten } from './oracleNoise.js'

/** Every unit of the point at one time; values are whole readings, or in a window what they differ from their mean. */
export interface Snapshot {
  readonly day: number
  readonly of: Observed['of']
  readonly unitsNtu: readonly number[]
  readonly grabNtu: number
}

/**
 * Values that share one covariance. Units are alike and independent, so an orthonormal turn over the units parts their
 * mean, which the bottle touches, from their contrasts, which it does not.
 */
export interface Series {
  readonly observed: readonly Observed[]
  readonly factor: Factor
  readonly directions: readonly Direction[]
}

export interface Direction {
  /** One weight a unit, of length 1. */
  readonly weights: readonly number[]
  /** Whitened, tolerances. */
  readonly white: Float64Array
}

/** Bias of a unit by hypothesis, NTU. */
export type SupposedBias = (unit: number, day: number, levelNtu: number) => number

/** Half a window before its end. */
const HALF_WINDOW_MS = 3 * HOUR_MS
/** A bottle farther above both what came before and what came after is of another water, tolerances. */
const BAD_BOTTLE = 2.25
const NEIGHBOURS = 3

/** What may be read of a point, in order of time; a row that lacks a unit is left out. */
export function snapshotsOf(point: FleetPoint, pairs: readonly Pair[], differences: readonly Difference[]): Snapshot[] {
  const bottles = pairs.flatMap(({ atMs, grabNtu, use, units }): Snapshot[] => {
    const unitsNtu = units.flatMap(unit => (unit === null ? [] : [unit.ntu]))
    return use === 'used' && unitsNtu.length === point.units
      ? [{ day: dayOf(atMs), of: 'pair', unitsNtu, grabNtu }]
      : []
  })
  const windows = differences.flatMap(({ atMs, levelNtu, deviationsNtu }): Snapshot[] => {
    const unitsNtu = deviationsNtu.flatMap(one => (one === null ? [] : [levelNtu + one]))
    return unitsNtu.length === point.units && point.units > 1
      ? [{ day: dayOf(atMs - HALF_WINDOW_MS), of: 'window', unitsNtu, grabNtu: levelNtu }]
      : []
  })
  return [...withoutBadBottles(point, bottles), ...windows].sort((a, b) => a.day - b.day)
}

function withoutBadBottles(point: FleetPoint, bottles: readonly Snapshot[]): Snapshot[] {
  const residuals = bottles.map(({ unitsNtu, grabNtu }) => {
    const ntu = median([...unitsNtu])
    return (ntu - grabNtu) / toleranceAt(WATER[point.water].tolerance, ntu)
  })
  return bottles.filter((_, i) => {
    const sides = [residuals.slice(Math.max(0, i - NEIGHBOURS), i), residuals.slice(i + 1, i + 1 + NEIGHBOURS)]
    return sides.some(side => side.length > 0 && residuals[i]! > median(side) - BAD_BOTTLE)
  })
}

/** Lays out the mean of the units and their contrasts. @param bias takes the supposed fault off the level of the water */
export function layOutSeries(point: FleetPoint, snapshots: readonly Snapshot[], bias: SupposedBias | null): Series[] {
  const observed = snapshots.map(snapshot => observe(point, snapshot, bias))
  const isPair = snapshots.map(({ of }) => of === 'pair')
  const bottle = laboratoryCovariance(point)
  const mean: Observed[] = observed.filter((_, i) => isPair[i])
  const meanFactor = factorise(mean, (a, b, same) => unitCovariance(a, b, same) + point.units * bottle(a, b, same))
  const root = 1 / Math.sqrt(point.units)
  const all = new Array<number>(point.units).fill(root)
  const meanRows = snapshots.filter((_, i) => isPair[i])
  const series: Series[] = [{ observed: mean, factor: meanFactor, directions: [turn(all, meanRows, mean, meanFactor)] }]
  if (point.units === 1) return series
  const factor = factorise(observed, unitCovariance)
  const contrasts = Array.from({ length: point.units - 1 }, (_, k) => contrastWeights(k + 1, point.units))
  series.push({ observed, factor, directions: contrasts.map(weights => turn(weights, snapshots, observed, factor)) })
  return series
}

function observe(point: FleetPoint, { day, of, unitsNtu }: Snapshot, bias: SupposedBias | null): Observed {
  let levelNtu = median([...unitsNtu])
  if (bias !== null) {
    const first = levelNtu
    levelNtu = unitsNtu.reduce((sum, ntu, unit) => sum + ntu - bias(unit, day, first), 0) / unitsNtu.length
  }
  return { day, of, levelNtu, toleranceNtu: toleranceAt(WATER[point.water].tolerance, levelNtu) }
}

function turn(
  weights: readonly number[],
  snapshots: readonly Snapshot[],
  observed: readonly Observed[],
  factor: Factor,
): Direction {
  const values = Float64Array.from(snapshots, ({ unitsNtu, grabNtu }, i) => {
    const turned = unitsNtu.reduce((sum, ntu, unit) => sum + weights[unit]! * (ntu - grabNtu), 0)
    return turned / observed[i]!.toleranceNtu
  })
  return { weights, white: whiten(factor, values) }
}

/** k-th Helmert contrast: mean of the first k units against the next one. */
function contrastWeights(k: number, units: number): number[] {
  const scale = Math.sqrt(k * (k + 1))
  return Array.from({ length: units }, (_, unit) => (unit < k ? 1 / scale : unit === k ? -k / scale : 0))
}
