import { quantile } from 'simple-statistics'
import { DAY_MS } from '../../../src/model/time.js'
import { randomStream } from '../../../src/simulate/random.js'
import {
  ageAtBias,
  biasAtAge,
  CHART_SHAPES,
  type ChartCell,
  type ChartShape,
  DAYS_PER_YEAR,
  declaredOf,
  DELTA0,
  newRun,
  perDayOf,
  type Run,
  series,
  shapeName,
} from './chartScenario.js'
import { START_MS } from './fleet.js'
import { rivalsOf } from './rivals.js'
import type { Watcher } from './chartWatcher.js'

/** How one way of looking does on the grab line of one analyzer; noise is as declared. */
export interface RivalRow {
  readonly cell: ChartCell
  readonly name: string
  readonly setting: string
  /** Signals a year, of either side, while the bias stands at so many tolerances and nothing else is wrong. */
  readonly falsePerYear: readonly { readonly bias: number; readonly rate: number }[]
  readonly faults: readonly {
    readonly shape: string
    readonly runs: number
    /** Days from the true bias passing delta0; null where so many runs ended without a signal. */
    readonly medianDays: number | null
    readonly p90Days: number | null
    readonly beforeTolerance: number
  }[]
}

const STANDING = [0, 0.2, DELTA0]
const FALSE_YEARS = 1
const CALENDAR_DAYS = 90
const WATCHED_DAYS = 150
const RAMPS = CHART_SHAPES.filter(shape => shape.kind === 'ramp')

export function rivalRows(firstSeed: number, runs: number, cell: ChartCell): RivalRow[] {
  const records = Array.from({ length: runs }, (_, index) => newRun(firstSeed, index, cell, 'known'))
  const rows = rivalsOf(firstSeed, cell).map(({ name, setting, watcher }) => ({
    cell,
    name,
    setting,
    falsePerYear: STANDING.map(bias => ({ bias, rate: falseRate(watcher, firstSeed, runs, cell, bias) })),
    faults: RAMPS.map(shape =>
      verdict(
        shape,
        records.map(run => daysToSignal(watcher.fork(), run, shape)),
      ),
    ),
  }))
  return [...rows, calendarRow(firstSeed, runs, cell)]
}

/** Visits come whatever happens, and what stands within the dead band did not need them. */
function calendarRow(firstSeed: number, runs: number, cell: ChartCell): RivalRow {
  const random = randomStream(firstSeed, 'calendar')
  return {
    cell,
    name: 'calendar',
    setting: `a visit each ${CALENDAR_DAYS} days`,
    falsePerYear: STANDING.map(bias => ({ bias, rate: DAYS_PER_YEAR / CALENDAR_DAYS })),
    faults: RAMPS.map(shape =>
      verdict(
        shape,
        Array.from({ length: runs }, () => random.between(0, CALENDAR_DAYS)),
      ),
    ),
  }
}

/** Begins anew after each signal. */
function falseRate(fresh: Watcher, firstSeed: number, runs: number, cell: ChartCell, bias: number): number {
  const perDay = perDayOf(cell)
  const values = Math.round(FALSE_YEARS * DAYS_PER_YEAR * perDay)
  let signals = 0
  for (let run = 0; run < runs; run++) {
    const errorAt = series(firstSeed, `standing ${run}`, declaredOf(cell))
    const watcher = fresh.fork()
    for (let i = 0; i < values; i++) {
      if (!watcher.take(START_MS + ((i + 1) * DAY_MS) / perDay, bias + errorAt(i))) continue
      signals += 1
      watcher.restart()
    }
  }
  return signals / ((runs * values) / perDay / DAYS_PER_YEAR)
}

/** A signal before the true bias passes delta0 is false: it begins anew. @returns Infinity without a signal */
function daysToSignal(watcher: Watcher, run: Run, shape: ChartShape): number {
  const edgeDay = run.onsetDay + ageAtBias(shape, DELTA0)
  const bias = (ageDays: number): number => biasAtAge(shape, ageDays)
  for (let i = 0; run.atDay(i) <= edgeDay + WATCHED_DAYS; i++) {
    if (!watcher.take(run.atMs(i), run.value(i, bias))) continue
    if (run.atDay(i) > edgeDay) return run.atDay(i) - edgeDay
    watcher.restart()
  }
  return Infinity
}

function verdict(shape: ChartShape, days: readonly number[]): RivalRow['faults'][number] {
  const untilTolerance = ageAtBias(shape, 1) - ageAtBias(shape, DELTA0)
  const at = (p: number): number | null => {
    const value = quantile([...days], p)
    return Number.isFinite(value) ? value : null
  }
  return {
    shape: shapeName(shape),
    runs: days.length,
    medianDays: at(0.5),
    p90Days: at(0.9),
    beforeTolerance: days.filter(delay => delay < untilTolerance).length / days.length,
  }
}
