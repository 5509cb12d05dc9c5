import type { Difference } from '../compare/difference.js'
import { type LaboratoryOffset, STANDING_OFFSET } from '../compare/laboratoryOffset.js'
import { type Pair, pairResidualNtu, type PairUnit } from '../compare/pair.js'
import { UNIT_INNOVATION, WINDOW_MS } from '../compare/redundant.js'
import { exp, ln } from '../statistics/distributions.js'
import type { EvidenceSeries } from '../statistics/changePosterior.js'

/** An interval in which the laboratory's results are shifted: its pairs keep their order but not their level. */
export interface LaboratoryInterval {
  readonly laboratoryInstrument: string | null
  readonly fromMs: number
  /** Null while it lasts. */
  readonly untilMs: number | null
  /** Analyzer minus grab in tolerances that the shift makes. */
  readonly shift: number
}

/** What the posterior of a point looks at. All in tolerances at the level of each value. */
export interface PointEvidence {
  readonly units: number
  readonly series: readonly EvidenceRows[]
  /**
   * Prior variances of what stays the same all the time: the standing offset of each unit, the laboratory's error left
   * after its offset was learnt, and its unknown shift in each interval.
   */
  readonly offsetVariances: readonly number[]
  readonly fromMs: number
}

export interface EvidenceRows extends EvidenceSeries {
  /** A grab enters once per point; a contrast is a difference between units. */
  readonly line: 'grab' | 'contrast'
  readonly timesMs: readonly number[]
  readonly levelsNtu: readonly number[]
  readonly tolerancesNtu: readonly number[]
  /** Weight of each unit in each value. */
  readonly weights: readonly (readonly number[])[]
  /** AR(1) coefficient with which a value was whitened against the one before; 0 after a gap. */
  readonly phi: readonly number[]
}

export interface EvidenceInput {
  readonly pairs: readonly Pair[]
  readonly differences: readonly Difference[]
  readonly units: number
  readonly offset: LaboratoryOffset
  /** Realised over declared uncertainty of the grab pairs. */
  readonly grabSigma: number
  readonly phi: number
  /** Realised over prior innovation of the units' differences. */
  readonly unitSigma: number
  /** By unit: evidence before this is about another state of it (last adjusting work). */
  readonly sinceMs: readonly number[]
  readonly laboratoryIntervals: readonly LaboratoryInterval[]
  readonly fromMs: number
}

/** Lays out grabs and differences as series of the linear model. Nothing enters twice. */
export function layOutEvidence(input: EvidenceInput): PointEvidence {
  const series = [...grabSeries(input), ...contrastSeries(input)]
  const first = Math.min(...series.map(rows => rows.timesMs[0] ?? Infinity))
  return {
    units: input.units,
    series,
    offsetVariances: offsetVariances(input, series),
    fromMs: Number.isFinite(first) ? Math.max(first, input.fromMs) : input.fromMs,
  }
}

/** Standing offset of a healthy unit and shift of the laboratory beyond what its interval says, tolerances squared. */
const STANDING_VARIANCE = STANDING_OFFSET * STANDING_OFFSET
const SHIFT_VARIANCE = 1
/** Keeps the precision finite where a laboratory is declared to have no error of its own. */
const LEAST_VARIANCE = 1e-6

function offsetVariances(input: EvidenceInput, series: readonly EvidenceRows[]): number[] {
  const tolerances = series.flatMap(rows => (rows.line === 'grab' ? rows.tolerancesNtu : []))
  const toleranceNtu = tolerances.length > 0 ? mean(tolerances) : 1
  return [
    ...new Array<number>(input.units).fill(STANDING_VARIANCE),
    Math.max(LEAST_VARIANCE, input.offset.variance / (toleranceNtu * toleranceNtu)),
    ...input.laboratoryIntervals.map(() => SHIFT_VARIANCE),
  ]
}

/** How a series mixes the offsets: units by weight; a grab carries the laboratory and the interval it lies in. */
function loadingOf(input: EvidenceInput, weights: readonly number[], isGrab: boolean, interval = -1): number[] {
  return [...weights, isGrab ? 1 : 0, ...input.laboratoryIntervals.map((_, k) => (k === interval ? 1 : 0))]
}

interface Rows {
  timesMs: number[]
  y: number[]
  variance: number[]
  g: number[]
  levelsNtu: number[]
  tolerancesNtu: number[]
  weights: number[][]
  phi: number[]
}

function newRows(): Rows {
  return { timesMs: [], y: [], variance: [], g: [], levelsNtu: [], tolerancesNtu: [], weights: [], phi: [] }
}

function grabSeries(input: EvidenceInput): EvidenceRows[] {
  const inside = new Map<string, { rows: Rows; loading: number[] }>()
  let before: Pair | undefined
  for (const pair of input.pairs) {
    if (pair.atMs < input.fromMs || (pair.use !== 'used' && pair.use !== 'laboratory_interval')) continue
    const usable = pair.units.flatMap((unit, i) =>
      unit !== null && pair.atMs > (input.sinceMs[i] ?? 0) ? [{ unit, i }] : [],
    )
    if (usable.length === 0) continue
    const interval = input.laboratoryIntervals.findIndex(
      one => pair.atMs >= one.fromMs && (one.untilMs === null || pair.atMs < one.untilMs),
    )
    const shift = input.laboratoryIntervals[interval]?.shift ?? 0
    const values = usable.map(({ unit }) => pairResidualNtu(pair, unit, input.offset.ntu) / unit.toleranceNtu)
    // A bound that is kept says nothing of the size.
    if (pair.qualifier !== null && values.every(value => value === 0)) continue
    // One series per set of units, since it mixes their standing offsets; an interval has an unknown shift of its own.
    const key = `${usable.map(({ i }) => i).join(',')}|${String(interval)}`
    const tolerance = mean(usable.map(({ unit }) => unit.toleranceNtu))
    const weights = new Array<number>(input.units).fill(0)
    for (const { i } of usable) weights[i] = 1 / usable.length
    let held = inside.get(key)
    if (held === undefined) {
      held = { rows: newRows(), loading: loadingOf(input, weights, true, interval) }
      inside.set(key, held)
    }
    const { rows } = held
    rows.timesMs.push(pair.atMs)
    rows.y.push(mean(values) - shift)
    rows.variance.push(
      pairVariance(
        usable.map(({ unit }) => unit),
        input,
        pair.atMs - (before?.atMs ?? 0),
      ),
    )
    rows.g.push(1)
    rows.levelsNtu.push(mean(usable.map(({ unit }) => unit.ntu)))
    rows.tolerancesNtu.push(tolerance)
    rows.weights.push(weights)
    rows.phi.push(0)
    before = pair
  }
  return [...inside.values()].map(({ rows, loading }) => ({ ...rows, loading, line: 'grab' as const }))
}

/**
 * The laboratory's random part, plus the slow mismatch between sample line and point: an AR(1) process whose values at
 * the spacing of the pairs are alike, so its variance counts (1 + rho)/(1 − rho) times.
 */
function pairVariance(units: readonly PairUnit[], input: EvidenceInput, gapMs: number): number {
  const declared = mean(units.map(unit => (unit.uNtu / unit.toleranceNtu) * (unit.uNtu / unit.toleranceNtu)))
  const innovation = UNIT_INNOVATION * input.unitSigma
  const stationary = (innovation * innovation) / (1 - input.phi * input.phi)
  const rho = input.phi > 0 ? exp((ln(input.phi) * Math.max(0, gapMs)) / WINDOW_MS) : 0
  return declared * input.grabSigma * input.grabSigma + (stationary * (1 + rho)) / ((1 - rho) * units.length)
}

/** Orthonormal contrasts between the units usable in a window, whitened as AR(1). */
function contrastSeries(input: EvidenceInput): EvidenceRows[] {
  const series = new Map<string, { rows: Rows; loading: number[]; lastY: number }>()
  for (const difference of input.differences) {
    if (difference.atMs < input.fromMs) continue
    const usable = difference.deviationsNtu.flatMap((value, i) =>
      value !== null && difference.atMs - WINDOW_MS > (input.sinceMs[i] ?? 0) ? [{ value, i }] : [],
    )
    for (let k = 1; k < usable.length; k++) {
      const weights = contrastWeights(
        usable.map(({ i }) => i),
        k,
        input.units,
      )
      const key = `${usable.map(({ i }) => i).join(',')}|${String(k)}`
      let held = series.get(key)
      if (held === undefined) {
        held = { rows: newRows(), loading: loadingOf(input, weights, false), lastY: 0 }
        series.set(key, held)
      }
      let y = 0
      for (const { value, i } of usable) y += ((weights[i] ?? 0) * value) / difference.toleranceNtu
      const { rows } = held
      const follows = difference.atMs - (rows.timesMs.at(-1) ?? 0) === WINDOW_MS
      const phi = follows ? input.phi : 0
      const innovation = UNIT_INNOVATION * input.unitSigma
      rows.timesMs.push(difference.atMs)
      rows.y.push(y - phi * held.lastY)
      rows.variance.push(follows ? innovation * innovation : (innovation * innovation) / (1 - input.phi * input.phi))
      rows.g.push(1 - phi)
      rows.levelsNtu.push(difference.levelNtu)
      rows.tolerancesNtu.push(difference.toleranceNtu)
      rows.weights.push(weights)
      rows.phi.push(phi)
      held.lastY = y
    }
  }
  return [...series.values()].map(({ rows, loading }) => ({ ...rows, loading, line: 'contrast' as const }))
}

/** k-th Helmert contrast: mean of the first k usable units against the next one, length 1. */
function contrastWeights(usable: readonly number[], k: number, units: number): number[] {
  const weights = new Array<number>(units).fill(0)
  const scale = Math.sqrt(k * (k + 1))
  for (let j = 0; j < k; j++) weights[usable[j] ?? 0] = 1 / scale
  weights[usable[k] ?? 0] = -k / scale
  return weights
}

function mean(values: readonly number[]): number {
  let sum = 0
  for (const value of values) sum += value
  return sum / values.length
}
