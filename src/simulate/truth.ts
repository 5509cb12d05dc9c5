import { DAY_MS, formatInstant, HOUR_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { biasNtu, type ErrorAt } from './analyzerError.js'
import { classOf, PLANT_ID, POINTS, pointOf } from './hollinWeir.js'
import { biasFaults } from './biasFaults.js'
import type { FaultTruth } from './faultTruth.js'
import { otherFaults } from './otherFaults.js'
import type { BottleResult } from './laboratory.js'
import type { Scenario } from './scenario.js'
import { levelAt, type Water } from './water.js'

/** What really happened, for whoever scores a service that saw only the stream. */
export interface SimulationTruth {
  readonly seed: number
  readonly plant: string
  readonly start: string
  readonly end: string
  readonly days: number
  /** No reading comes later after its own time than this, s. */
  readonly latestReadingS: number
  readonly faults: readonly FaultTruth[]
  /** Analyzers that no listed fault concerns, a harmless standing bias apart. */
  readonly healthyAnalyzers: readonly string[]
  /** True bias in tolerances at the level of the day, one mean for each day; sample line and noise apart. */
  readonly biasDaily: Readonly<Record<string, readonly number[]>>
}

export interface TruthSource {
  readonly seed: number
  readonly startMs: number
  readonly days: number
  readonly scenario: Scenario
  readonly water: Water
  readonly errorAt: ErrorAt
  readonly bottles: readonly BottleResult[]
}

export function describeTruth(source: TruthSource): SimulationTruth {
  const { seed, startMs, days } = source
  const endMs = startMs + days * DAY_MS
  const hourly = new Map(POINTS.flatMap(point => point.analyzers).map(({ id }) => [id, hourlyBias(source, id)]))
  const passed = (id: string, fromMs: number, toMs: number): string | null =>
    passedAt(hourly.get(id)!, startMs, fromMs, toMs)
  const faults = [...biasFaults(source.scenario, passed), ...otherFaults(source.scenario, source.bottles, startMs)]
    .filter(fault => fault.onset < formatInstant(endMs))
    .sort((a, b) => (a.onset < b.onset ? -1 : 1))
  const concerned = new Set(faults.flatMap(fault => fault.concerns))
  return {
    seed,
    plant: PLANT_ID,
    start: formatInstant(startMs),
    end: formatInstant(endMs),
    days,
    latestReadingS: 90,
    faults,
    healthyAnalyzers: [...hourly.keys()].filter(id => !concerned.has(id)),
    biasDaily: Object.fromEntries([...hourly].map(([id, bias]) => [id, dailyMeans(bias)])),
  }
}

/** Bias in tolerances at each full hour, both taken at the mean level of the 24 hours before. */
function hourlyBias({ water, errorAt, startMs, days }: TruthSource, analyzerId: string): readonly number[] {
  const pointId = pointOf(analyzerId).id
  const { tolerance } = classOf(analyzerId)
  const levels: number[] = []
  return Array.from({ length: days * 24 }, (_, hour) => {
    const atMs = startMs + hour * HOUR_MS
    levels.push(meanOfHour(water, pointId, atMs))
    const day = levels.slice(-24)
    const level = day.reduce((sum, each) => sum + each, 0) / day.length
    return biasNtu(analyzerId, errorAt(analyzerId, atMs), level) / toleranceAt(tolerance, level)
  })
}

function meanOfHour(water: Water, pointId: string, atMs: number): number {
  let sum = 0
  for (let quarter = 0; quarter < 4; quarter++) sum += levelAt(water, pointId, atMs - (quarter * HOUR_MS) / 4)
  return sum / 4
}

function passedAt(bias: readonly number[], startMs: number, fromMs: number, toMs: number): string | null {
  const index = bias.findIndex((each, hour) => {
    const atMs = startMs + hour * HOUR_MS
    return atMs >= fromMs && atMs < toMs && Math.abs(each) > 1
  })
  return index < 0 ? null : formatInstant(startMs + index * HOUR_MS)
}

function dailyMeans(hourly: readonly number[]): readonly number[] {
  return Array.from({ length: Math.floor(hourly.length / 24) }, (_, day) => {
    const mean = hourly.slice(day * 24, day * 24 + 24).reduce((sum, each) => sum + each, 0) / 24
    const rounded = Math.round(mean * 1_000) / 1_000
    return rounded === 0 ? 0 : rounded
  })
}
