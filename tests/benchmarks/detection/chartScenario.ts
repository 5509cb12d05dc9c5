import { exp, ln } from '../../../src/statistics/distributions.js'
import { priorInnovation, redundantLines } from '../../../src/compare/redundant.js'
import { type Plant, resolvePlant } from '../../../src/model/plant.js'
import { DAY_MS } from '../../../src/model/time.js'
import { randomStream } from '../../../src/simulate/random.js'
import { START_MS } from './fleet.js'

/** One line of one analyzer. All sizes in tolerances. */
export type ChartCell =
  | { readonly line: 'grab'; readonly s: number; readonly perDay: number }
  | { readonly line: 'redundant'; readonly units: 2 | 3 }

export const CHART_CELLS: readonly ChartCell[] = [
  ...[2, 3, 5].flatMap(s => [1, 2, 8].map(perDay => ({ line: 'grab', s, perDay }) as const)),
  { line: 'redundant', units: 2 },
  { line: 'redundant', units: 3 },
]

/** How a bias comes: zero, span and fouling at a constant level are the same to a chart. */
export type ChartShape =
  | { readonly kind: 'ramp' | 'growth'; readonly daysToTolerance: number }
  | { readonly kind: 'step'; readonly size: number }

export const CHART_SHAPES: readonly ChartShape[] = [
  ...(['ramp', 'growth'] as const).flatMap(kind => [15, 30, 90].map(daysToTolerance => ({ kind, daysToTolerance }))),
  ...[0.8, 1, 1.5, 2].map(size => ({ kind: 'step', size }) as const),
]

export function shapeName(shape: ChartShape): string {
  return shape.kind === 'step' ? `step ${shape.size}` : `${shape.kind} ${shape.daysToTolerance} days`
}

export function biasAtAge(shape: ChartShape, ageDays: number): number {
  if (ageDays <= 0) return 0
  if (shape.kind === 'step') return shape.size
  const share = ageDays / shape.daysToTolerance
  return shape.kind === 'ramp' ? share : share * share
}

/** Days from the onset until the bias passes so many tolerances. */
export function ageAtBias(shape: ChartShape, bias: number): number {
  if (shape.kind === 'step') return bias < shape.size ? 0 : Infinity
  return shape.daysToTolerance * (shape.kind === 'ramp' ? bias : Math.sqrt(bias))
}

/** The budget in force: one false alarm in so many analyzer-years for all one-sided charts of the analyzer together. */
export const BUDGET_YEARS = 5
export const DAYS_PER_YEAR = 365.25
/** Edge of the dead band, and the bias charts are tuned to: the register's defaults. */
export const DELTA0 = 0.25
export const DELTA1 = 0.6

export function sidesOf(cell: ChartCell): number {
  return cell.line === 'grab' ? 2 : 4
}

/** Six-hour windows for a redundant line. */
export function perDayOf(cell: ChartCell): number {
  return cell.line === 'grab' ? cell.perDay : 4
}

/** Values of one side between false signals. */
export function askedArl(cell: ChartCell): number {
  return BUDGET_YEARS * DAYS_PER_YEAR * perDayOf(cell) * sidesOf(cell)
}

/** A plant of one point with as many units as the cell has. */
export function plantOfCell(cell: ChartCell, budgetYears: number): Plant {
  const units = cell.line === 'grab' ? 1 : cell.units
  const analyzers = Object.fromEntries(['A', 'B', 'C'].slice(0, units).map(id => [id, { unit: 'NTU' as const }]))
  return resolvePlant({
    plant: 'charts',
    falseAlarmBudget: { analyzerYearsPerFalseAlarm: budgetYears },
    points: { P: { grab: { perDay: cell.line === 'grab' ? cell.perDay : 2 }, analyzers } },
  })
}

/** Standard deviation the product takes for one value, or one innovation, before it has seen any; and its phi. */
export function declaredOf(cell: ChartCell): Noise {
  if (cell.line === 'grab') return { sigma: 1 / cell.s, phi: 0 }
  const [line] = redundantLines(plantOfCell(cell, BUDGET_YEARS).points.get('P')!)
  return { sigma: priorInnovation(line!, cell.units), phi: 0.4 }
}

/** AR(1) with the standard deviation of its innovations; independent values where phi is 0. */
export interface Noise {
  readonly sigma: number
  readonly phi: number
}

/** Whether noise is as declared and the product knows it, or is another in each run and the product learns it. */
export type Knowledge = 'known' | 'learnt'

/** Sound days before the onset. */
const SOUND_DAYS = 30
const SEEDS = 100
/** The median over a window stands for its middle. */
const HALF_WINDOW_DAYS = 0.125

/** One record: its noise, and when the bias sets in. Every chart, and every shape, sees the same. */
export interface Run {
  readonly perDay: number
  readonly noise: Noise
  readonly onsetDay: number
  /** Values before the onset. */
  readonly soundValues: number
  readonly atDay: (i: number) => number
  readonly atMs: (i: number) => number
  /** @param bias as a function of days since the onset */
  readonly value: (i: number, bias: (ageDays: number) => number) => number
}

/** @param index 0 and up: a hundred seeds, then the same seeds with other numbers */
export function newRun(firstSeed: number, index: number, cell: ChartCell, knowledge: Knowledge): Run {
  const seed = firstSeed + (index % SEEDS)
  const perDay = perDayOf(cell)
  const round = Math.floor(index / SEEDS)
  const truth = randomStream(seed, `chart truth ${round}`)
  const phase = truth.uniform()
  const noise = knowledge === 'known' ? declaredOf(cell) : strayed(declaredOf(cell), truth.uniform(), truth.uniform())
  const errorAt = series(seed, `chart noise ${cell.line} ${perDay} ${round}`, noise)
  const onsetDay = SOUND_DAYS + phase / perDay
  const lagDays = cell.line === 'grab' ? 0 : HALF_WINDOW_DAYS
  const atDay = (i: number): number => (i + 1) / perDay
  return {
    perDay,
    noise,
    onsetDay,
    soundValues: SOUND_DAYS * perDay,
    atDay,
    atMs: i => START_MS + atDay(i) * DAY_MS,
    value: (i, bias) => errorAt(i) + bias(atDay(i) - lagDays - onsetDay),
  }
}

/** Errors by index, drawn as they are asked for. */
export function series(seed: number, label: string, { sigma, phi }: Noise): (i: number) => number {
  const random = randomStream(seed, label)
  const drawn: number[] = []
  return i => {
    while (drawn.length <= i) {
      const before = drawn.at(-1)
      const z = sigma * random.normal()
      drawn.push(before === undefined ? z / Math.sqrt(1 - phi * phi) : phi * before + z)
    }
    return drawn[i]!
  }
}

/** A spread of 0.8 to 1.25 times the declared, and where values follow one another a phi of 0.2 to 0.7. */
export function strayed(declared: Noise, first: number, second: number): Noise {
  return {
    sigma: declared.sigma * exp((2 * first - 1) * ln(1.25)),
    phi: declared.phi === 0 ? 0 : 0.2 + 0.5 * second,
  }
}
