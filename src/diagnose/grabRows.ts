import { type Pair, pairResidualNtu } from '../compare/pair.js'
import { UNIT_INNOVATION, WINDOW_MS } from '../compare/redundant.js'
import { exp, ln } from '../statistics/distributions.js'
import type { EvidenceInput } from './evidence.js'
import { loadingOf, type OffsetPlan } from './offsets.js'
import { mean } from '../statistics/mean.js'
import { type EvidenceRows, newRows, type Rows } from './rows.js'

/** One pair as the mean of the units usable in it, tolerances. */
interface Value {
  readonly atMs: number
  readonly y: number
  /** Of the laboratory and the window, without the slow mismatch. */
  readonly variance: number
  readonly levelNtu: number
  readonly toleranceNtu: number
  readonly weights: number[]
}

/** Pairs that mix the offsets alike: the same units, the same interval of the laboratory, the same method. */
interface Held {
  readonly rows: Rows
  readonly loading: number[]
  /** Pairs of less than six hours, which share the slow mismatch: one row. */
  cluster: Value[]
}

/** Grab pairs, each once per point. Those within six hours of the first of them are one value. */
export function grabSeries(input: EvidenceInput, plan: OffsetPlan): EvidenceRows[] {
  const inside = new Map<string, Held>()
  let beforeMs = -Infinity
  for (const pair of input.pairs) {
    if (pair.atMs < input.fromMs || (pair.use !== 'used' && pair.use !== 'laboratory_interval')) continue
    const interval = input.laboratoryIntervals.findIndex(
      one => pair.atMs >= one.fromMs && (one.untilMs === null || pair.atMs < one.untilMs),
    )
    const value = valueOf(pair, input, input.laboratoryIntervals[interval]?.shift ?? 0)
    if (value === undefined) continue
    const method = pair.byMethod?.method
    const key = `${value.weights.join(',')}|${String(interval)}|${method ?? ''}`
    let held = inside.get(key)
    if (held === undefined) {
      const mix = { weights: value.weights, isGrab: true, interval, method }
      held = { rows: newRows(), loading: loadingOf(plan, mix), cluster: [] }
      inside.set(key, held)
    }
    const first = held.cluster[0]
    if (first === undefined || value.atMs - first.atMs >= WINDOW_MS) {
      held.cluster = [value]
      pushRow(held, input, value.atMs - beforeMs)
      beforeMs = value.atMs
    } else {
      held.cluster.push(value)
      renewRow(held)
    }
  }
  return [...inside.values()].map(({ rows, loading }) => ({ ...rows, loading, line: 'grab' as const }))
}

/** Undefined where no unit is usable, or where the sample is a bound that is kept: that says nothing of the size. */
function valueOf(pair: Pair, input: EvidenceInput, shift: number): Value | undefined {
  const usable = pair.units.flatMap((unit, i) =>
    unit !== null && pair.atMs > (input.sinceMs[i] ?? 0) ? [{ unit, i }] : [],
  )
  if (usable.length === 0) return undefined
  const values = usable.map(({ unit }) => pairResidualNtu(pair, unit, input.offset.ntu) / unit.toleranceNtu)
  if (pair.qualifier !== null && values.every(value => value === 0)) return undefined
  const weights = new Array<number>(input.units).fill(0)
  for (const { i } of usable) weights[i] = 1 / usable.length
  const declared = mean(usable.map(({ unit }) => (unit.uNtu / unit.toleranceNtu) * (unit.uNtu / unit.toleranceNtu)))
  return {
    atMs: pair.atMs,
    y: mean(values) - shift,
    variance: declared * input.grabSigma * input.grabSigma,
    levelNtu: mean(usable.map(({ unit }) => unit.ntu)),
    toleranceNtu: mean(usable.map(({ unit }) => unit.toleranceNtu)),
    weights,
  }
}

function pushRow(held: Held, input: EvidenceInput, gapMs: number): void {
  const { rows, cluster } = held
  const [value] = cluster
  if (value === undefined) return
  rows.timesMs.push(value.atMs)
  rows.y.push(value.y)
  rows.variance.push(value.variance + slowVariance(value, input, gapMs))
  rows.g.push(1)
  rows.levelsNtu.push(value.levelNtu)
  rows.tolerancesNtu.push(value.toleranceNtu)
  rows.weights.push(value.weights)
  rows.phi.push(0)
}

/** A further bottle adds to what the laboratory says, not to what is known of the slow mismatch. */
function renewRow({ rows, cluster }: Held): void {
  const last = rows.y.length - 1
  const precisions = cluster.map(value => 1 / value.variance)
  const precision = precisions.reduce((sum, one) => sum + one, 0)
  const before = cluster.slice(0, -1)
  const slow = rows.variance[last]! - 1 / before.reduce((sum, value) => sum + 1 / value.variance, 0)
  rows.y[last] = cluster.reduce((sum, value, i) => sum + value.y * precisions[i]!, 0) / precision
  rows.variance[last] = 1 / precision + slow
  rows.levelsNtu[last] = mean(cluster.map(value => value.levelNtu))
  rows.tolerancesNtu[last] = mean(cluster.map(value => value.toleranceNtu))
}

/**
 * The slow mismatch between sample line and point: an AR(1) process whose values at the spacing of the pairs are alike,
 * so its variance counts (1 + rho)/(1 − rho) times (Bartlett 1946, from memory).
 */
function slowVariance(value: Value, input: EvidenceInput, gapMs: number): number {
  const innovation = UNIT_INNOVATION * input.unitSigma
  const stationary = (innovation * innovation) / (1 - input.phi * input.phi)
  const rho = input.phi > 0 && gapMs < Infinity ? exp((ln(input.phi) * Math.max(0, gapMs)) / WINDOW_MS) : 0
  const units = value.weights.filter(weight => weight > 0).length
  return (stationary * (1 + rho)) / ((1 - rho) * units)
}
