import { boundWatcher, DESIGN_SHIFTS } from './bound.js'
import {
  ageAtBias,
  biasAtAge,
  BUDGET_YEARS,
  CHART_SHAPES,
  type ChartCell,
  type ChartShape,
  DELTA0,
  DELTA1,
  type Knowledge,
  newRun,
  shapeName,
} from './chartScenario.js'
import { delayDays, productWatcher, type Watcher, watchSound } from './chartWatcher.js'

/** Most that the mean delay may be of the bound's. */
export const DELAY_BARS: Readonly<Record<Knowledge, number>> = { known: 1.25, learnt: 1.5 }

/** Mean delay of the product's chart beside the best CUSUM there could be, on the same records. */
export interface ChartDelayRow {
  readonly cell: ChartCell
  readonly shape: string
  readonly knowledge: Knowledge
  readonly runs: number
  /** Signals before the true bias passed delta0: left out of the means. */
  readonly early: number
  readonly delayDays: number
  /** True bias after the mean delay, tolerances. */
  readonly biasThen: number
  readonly bound: Bound
  /** Best chart under the product's own rule that one or two values alone may not signal. */
  readonly cappedBound: Bound
  /** Plain CUSUM designed for the product's own delta1: what is left against it is lost to the cap and to learning. */
  readonly ownDesign: Bound
  readonly bar: number
}

interface Bound {
  readonly designShift: number
  readonly early: number
  readonly delayDays: number
  /** Product's mean delay over this one, and its standard error from the runs. */
  readonly ratio: number
  readonly ratioSe: number
}

/** A delay for each run, days; null where it signalled too early. */
type Delays = (number | null)[]

/** Both versions of the product's chart for every shape. @param firstSeed a hundred seeds from here on are used */
export function chartDelayRows(firstSeed: number, runs: number, cell: ChartCell): ChartDelayRow[] {
  return (['known', 'learnt'] as const).flatMap(knowledge => {
    const indices = Array.from({ length: runs }, (_, i) => i)
    const delays = CHART_SHAPES.map(() => Array.from({ length: 1 + 2 * DESIGN_SHIFTS.length }, (): Delays => []))
    for (const index of indices) {
      const run = newRun(firstSeed, index, cell, knowledge)
      const watchers: Watcher[] = [
        productWatcher(cell, knowledge, BUDGET_YEARS),
        ...[false, true].flatMap(isCapped =>
          DESIGN_SHIFTS.map(shift => boundWatcher(cell, run.noise, shift, isCapped)),
        ),
      ]
      const isQuiet = watchers.map(watcher => watchSound(watcher, run))
      CHART_SHAPES.forEach((shape, s) => {
        watchers.forEach((watcher, w) => {
          delays[s]![w]!.push(isQuiet[w] === true ? delayDays(watcher.fork(), run, shape) : null)
        })
      })
    }
    return CHART_SHAPES.map((shape, s) => row(cell, shape, knowledge, delays[s]!))
  })
}

function row(cell: ChartCell, shape: ChartShape, knowledge: Knowledge, delays: readonly Delays[]): ChartDelayRow {
  const [product, ...bounds] = delays
  const uncapped = bounds.slice(0, DESIGN_SHIFTS.length)
  return {
    cell,
    shape: shapeName(shape),
    knowledge,
    runs: product!.length,
    early: earlyOf(product!),
    delayDays: meanOf(product!),
    biasThen: biasAtAge(shape, ageAtBias(shape, DELTA0) + meanOf(product!)),
    bound: best(product!, uncapped),
    cappedBound: best(product!, bounds.slice(DESIGN_SHIFTS.length)),
    ownDesign: beside(product!, uncapped, DESIGN_SHIFTS.indexOf(DELTA1)),
    bar: DELAY_BARS[knowledge],
  }
}

/** The design with the smallest mean in this very scenario: more than any chart can know. */
function best(product: Delays, bounds: readonly Delays[]): Bound {
  const means = bounds.map(meanOf)
  return beside(product, bounds, means.indexOf(Math.min(...means)))
}

function beside(product: Delays, bounds: readonly Delays[], which: number): Bound {
  const mean = meanOf(bounds[which]!)
  const ratio = meanOf(product) / mean
  const misses = product.flatMap((delay, i) => {
    const bounding = bounds[which]![i]
    return delay === null || bounding == null ? [] : [delay - ratio * bounding]
  })
  const variance = misses.reduce((sum, miss) => sum + miss * miss, 0) / (misses.length - 1)
  return {
    designShift: DESIGN_SHIFTS[which]!,
    early: earlyOf(bounds[which]!),
    delayDays: mean,
    ratio,
    ratioSe: Math.sqrt(variance / misses.length) / mean,
  }
}

function earlyOf(delays: Delays): number {
  return delays.filter(delay => delay === null).length
}

function meanOf(delays: Delays): number {
  const counted = delays.filter(delay => delay !== null)
  return counted.reduce((sum, delay) => sum + delay, 0) / counted.length
}
