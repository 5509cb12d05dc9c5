import { solveLimit } from '../../../src/detect/limit.js'
import { DAY_MS } from '../../../src/model/time.js'
import { randomStream } from '../../../src/simulate/random.js'
import { chiSquareQuantile } from '../../../src/statistics/distributions.js'
import { START_MS } from './fleet.js'
import {
  type ChartCell,
  DAYS_PER_YEAR,
  declaredOf,
  DELTA0,
  DELTA1,
  type Knowledge,
  perDayOf,
  series,
  sidesOf,
  strayed,
} from './chartScenario.js'
import { productWatcher } from './chartWatcher.js'

/** Values between signals of one side with the true bias standing at delta0, against what was asked. */
export interface ChartBudgetRow {
  readonly cell: ChartCell
  readonly knowledge: Knowledge
  readonly askedArl: number
  /** What the product solves for after rounding the rate to its grid. */
  readonly solvedArl: number
  readonly values: number
  readonly signals: number
  readonly arl: number
  /** 95 % interval of the run length by the Poisson law of the count (Garwood 1936, Biometrika 28:437). */
  readonly arlInterval: readonly [number, number]
  /** No more signals than asked for, as far as the count can tell. */
  readonly keepsBudget: boolean
}

/** Short enough to count signals by the hundred: the budget in force asks for thousands of values. */
const ASKED_ARL = 500
const SOUND_DAYS = 30
const VALUES_PER_RUN = 2_000

export const BUDGET_CELLS: readonly ChartCell[] = [
  ...[2, 3, 5].map(s => ({ line: 'grab', s, perDay: 2 }) as const),
  { line: 'redundant', units: 2 },
  { line: 'redundant', units: 3 },
]

/**
 * Each run is another analyzer: noise drawn anew, thirty days without bias, in which a redundant line learns its
 * baseline, then the bias for 2000 values. After a signal a grab line begins anew with what it has learnt of the
 * noise; a redundant line, whose baseline would take the bias in, is replaced by another after thirty days without.
 */
export function chartBudgetRow(firstSeed: number, runs: number, cell: ChartCell, knowledge: Knowledge): ChartBudgetRow {
  const perDay = perDayOf(cell)
  const budgetYears = ASKED_ARL / (DAYS_PER_YEAR * perDay * sidesOf(cell))
  let values = 0
  let signals = 0
  for (let run = 0; run < runs; run++) {
    const truth = randomStream(firstSeed + run, 'budget truth')
    const declared = declaredOf(cell)
    const noise = knowledge === 'known' ? declared : strayed(declared, truth.uniform(), truth.uniform())
    const errorAt = series(firstSeed + run, `budget noise ${cell.line}`, noise)
    let watcher = productWatcher(cell, knowledge, budgetYears)
    let soundUntil = SOUND_DAYS * perDay
    let atBias = 0
    for (let i = 0; atBias < VALUES_PER_RUN; i++) {
      const isSound = i < soundUntil
      const isSignal = watcher.take(START_MS + ((i + 1) * DAY_MS) / perDay, errorAt(i) + (isSound ? 0 : DELTA0))
      if (!isSound) {
        atBias += 1
        if (isSignal) signals += 1
      }
      if (!isSignal) continue
      if (cell.line === 'grab') watcher.restart()
      else {
        watcher = productWatcher(cell, knowledge, budgetYears)
        soundUntil = i + 1 + SOUND_DAYS * perDay
      }
    }
    values += atBias
  }
  const arlInterval = [values / (chiSquareQuantile(0.975, 2 * signals + 2) / 2), values / leastMean(signals)] as const
  return {
    cell,
    knowledge,
    askedArl: ASKED_ARL,
    solvedArl: solvedArl(cell, budgetYears),
    values,
    signals,
    arl: values / signals,
    arlInterval,
    keepsBudget: arlInterval[1] >= ASKED_ARL,
  }
}

function leastMean(signals: number): number {
  return signals === 0 ? 0 : chiSquareQuantile(0.025, 2 * signals) / 2
}

function solvedArl(cell: ChartCell, budgetYears: number): number {
  const { sigma, phi } = declaredOf(cell)
  return solveLimit({
    u: sigma,
    delta0: (1 - phi) * DELTA0,
    delta1: (1 - phi) * DELTA1,
    valuesPerDay: perDayOf(cell),
    budgetYears,
    sides: sidesOf(cell),
  }).arl
}
