import { DAY_MS, MINUTE_MS } from '../model/time.js'
import { exp } from '../statistics/distributions.js'
import { autoregression } from './autoregression.js'
import type { Backwash } from './filterRuns.js'
import { FILTERS, POINTS, pointOf } from './hollinWeir.js'
import { randomStream } from './random.js'
import type { Storm } from './scenario.js'

/** What the water at every point truly is, NTU, on a grid of one minute from the start of the run. */
export interface Water {
  readonly startMs: number
  readonly byPoint: ReadonlyMap<string, Float64Array>
}

/** Relative daily swing, spread and correlation of the slow walk and of the quick process noise, by class of point. */
const HABIT = {
  raw: { swing: 0.05, slow: 0.16, quick: 0.03, quickCorrelationS: 7_200 },
  settled: { swing: 0.06, slow: 0.12, quick: 0.025, quickCorrelationS: 2_700 },
  filter: { swing: 0.05, slow: 0.1, quick: 0.03, quickCorrelationS: 1_500 },
  waste: { swing: 0, slow: 0.1, quick: 0.05, quickCorrelationS: 1_200 },
} as const
const SLOW_CORRELATION_S = 5 * 86_400
/** A storm seen through a clarifier, and through clarifier and filter: delay of the mixing, and what is left of it. */
const CLARIFIER = { lagMin: 300, gain: 1.1 }
const FILTER = { lagMin: 240, gain: 0.35 }
const COMBINED_LAG_MIN = 20

export function drawWater(
  seed: number,
  startMs: number,
  endMs: number,
  storms: readonly Storm[],
  backwashes: readonly Backwash[],
): Water {
  const minutes = Math.ceil((endMs - startMs) / MINUTE_MS) + 1
  const storm = stormExcess(storms, startMs, minutes)
  const settled = lagged(storm, CLARIFIER.lagMin).map(ntu => (ntu * CLARIFIER.gain) / STORM_UNIT_NTU)
  const filtered = lagged(lagged(storm, CLARIFIER.lagMin), FILTER.lagMin).map(
    ntu => (ntu * FILTER.gain) / STORM_UNIT_NTU,
  )
  const byPoint = new Map<string, Float64Array>()
  for (const point of POINTS) {
    if (point.id === 'CFE') continue
    const level = restlessLevel(seed, point.id, startMs, minutes)
    if (point.class === 'raw') addTo(level, storm)
    if (point.class === 'settled') scaleBy(level, settled)
    if (point.class === 'filter') {
      scaleBy(level, filtered)
      addRuns(
        level,
        backwashes.filter(wash => wash.filter === point.id),
        startMs,
      )
    }
    if (point.class === 'waste') addWashWater(level, backwashes, startMs)
    byPoint.set(point.id, level)
  }
  byPoint.set('CFE', combined(seed, byPoint, backwashes, startMs, minutes))
  return { startMs, byPoint }
}

/** True turbidity at an instant, between two minutes in a straight line; held at both ends of the run. */
export function levelAt(water: Water, pointId: string, atMs: number): number {
  const grid = water.byPoint.get(pointId)
  if (grid === undefined) throw new RangeError(`no water known at ${pointId}`)
  const position = Math.min(Math.max((atMs - water.startMs) / MINUTE_MS, 0), grid.length - 1)
  const left = Math.floor(position)
  const right = Math.min(left + 1, grid.length - 1)
  return grid[left]! + (position - left) * (grid[right]! - grid[left]!)
}

const STORM_UNIT_NTU = 150

function restlessLevel(seed: number, pointId: string, startMs: number, minutes: number): Float64Array {
  const point = pointOf(pointId)
  const habit = HABIT[point.class]
  const random = randomStream(seed, `water:${pointId}`)
  const usual = point.usualNtu * exp(random.cutNormal(0.06, 0.1))
  const phase = random.uniform()
  const slow = autoregression(random, habit.slow, SLOW_CORRELATION_S, 60)
  const quick = autoregression(random, habit.quick, habit.quickCorrelationS, 60)
  return Float64Array.from({ length: minutes }, (_, minute) => {
    const day = (startMs + minute * MINUTE_MS) / DAY_MS + phase
    return usual * exp(slow() + quick() + habit.swing * dailyWave(day - Math.floor(day)))
  })
}

/** Two parabolas in place of a sine, from −1 to 1. */
function dailyWave(phase: number): number {
  return phase < 0.5 ? 16 * phase * (0.5 - phase) : -16 * (phase - 0.5) * (1 - phase)
}

function stormExcess(storms: readonly Storm[], startMs: number, minutes: number): Float64Array {
  const excess = new Float64Array(minutes)
  for (const storm of storms) {
    for (let minute = 0; minute < minutes; minute++) {
      const sinceMs = startMs + minute * MINUTE_MS - storm.startMs
      if (sinceMs <= 0) continue
      const risen = Math.min(1, sinceMs / storm.riseMs)
      const left = sinceMs <= storm.riseMs ? 1 : exp(-(sinceMs - storm.riseMs) / storm.decayMs)
      excess[minute] = excess[minute]! + storm.peakNtu * risen * risen * (3 - 2 * risen) * left
    }
  }
  return excess
}

function lagged(input: Float64Array, lagMin: number): Float64Array {
  const keep = exp(-1 / lagMin)
  let value = input[0] ?? 0
  return input.map(now => (value = keep * value + (1 - keep) * now))
}

/** The water creeps up a little over a run; a wash stirs the standing sample, and the restart ripens for close to an hour. */
function addRuns(level: Float64Array, washes: readonly Backwash[], startMs: number): void {
  const minuteOf = (atMs: number): number => Math.round((atMs - startMs) / MINUTE_MS)
  let runFrom = -1_440
  for (const wash of [...washes, undefined]) {
    const runTo = Math.min(wash === undefined ? level.length : minuteOf(wash.startMs), level.length)
    const length = wash === undefined ? 2_160 : runTo - runFrom
    for (let minute = Math.max(runFrom, 0); minute < runTo; minute++) {
      const run = (minute - runFrom) / length
      level[minute] = level[minute]! * (1 + 0.08 * run * run)
    }
    if (wash === undefined) return
    runFrom = minuteOf(wash.restartMs)
    const washed = runFrom - runTo
    for (let minute = runTo; minute < Math.min(runFrom + 180, level.length); minute++) {
      const since = minute - runFrom
      const stirred = since < 0 ? (minute - runTo) / washed : exp(-since / 6)
      const ripening = since < 0 ? 0 : (since / RIPENING_MIN) * exp(1 - since / RIPENING_MIN)
      level[minute] = level[minute]! + wash.stagnationNtu * stirred + wash.ripeningNtu * ripening
    }
  }
}

/** Time of the ripening peak after the restart, minutes; after 50 minutes about 6 % of the peak is left. */
const RIPENING_MIN = 9

function addWashWater(level: Float64Array, backwashes: readonly Backwash[], startMs: number): void {
  for (const wash of backwashes) {
    const from = Math.round((wash.startMs - startMs) / MINUTE_MS) + 3
    for (let minute = from; minute < Math.min(from + 120, level.length); minute++) {
      const since = (minute - from) / 5
      level[minute] = level[minute]! + wash.wastePeakNtu * since * exp(1 - since)
    }
  }
}

/** Mean of the filters in service, mixed in the common channel. */
function combined(
  seed: number,
  byPoint: ReadonlyMap<string, Float64Array>,
  backwashes: readonly Backwash[],
  startMs: number,
  minutes: number,
): Float64Array {
  const sum = new Float64Array(minutes)
  const serving = new Float64Array(minutes)
  for (const filter of FILTERS) {
    const level = byPoint.get(filter)!
    const away = new Uint8Array(minutes)
    for (const wash of backwashes) {
      if (wash.filter !== filter) continue
      away.fill(
        1,
        Math.round((wash.startMs - startMs) / MINUTE_MS),
        Math.round((wash.inServiceMs - startMs) / MINUTE_MS),
      )
    }
    for (let minute = 0; minute < minutes; minute++) {
      if (away[minute] === 1) continue
      sum[minute] = sum[minute]! + level[minute]!
      serving[minute] = serving[minute]! + 1
    }
  }
  const mixed = lagged(
    sum.map((total, minute) => total / Math.max(1, serving[minute]!)),
    COMBINED_LAG_MIN,
  )
  const quick = autoregression(randomStream(seed, 'water:CFE'), 0.015, 1_500, 60)
  return mixed.map(level => level * exp(quick()))
}

function addTo(level: Float64Array, excess: Float64Array): void {
  for (let minute = 0; minute < level.length; minute++) level[minute] = level[minute]! + excess[minute]!
}

function scaleBy(level: Float64Array, relativeExcess: Float64Array): void {
  for (let minute = 0; minute < level.length; minute++) level[minute] = level[minute]! * (1 + relativeExcess[minute]!)
}
