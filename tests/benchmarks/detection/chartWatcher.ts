import { redundantLines } from '../../../src/compare/redundant.js'
import { chartGrabPair, type GrabChart, newGrabChart, restartGrabChart } from '../../../src/detect/grabChart.js'
import {
  chartDifference,
  newRedundantChart,
  type RedundantChart,
  restartRedundantChart,
} from '../../../src/detect/redundantChart.js'
import {
  ageAtBias,
  biasAtAge,
  type ChartCell,
  type ChartShape,
  declaredOf,
  DELTA0,
  type Knowledge,
  plantOfCell,
  type Run,
  sidesOf,
} from './chartScenario.js'

/** Whatever looks at a line value by value. */
export interface Watcher {
  /** Takes one value. @returns whether it signals */
  readonly take: (atMs: number, value: number) => boolean
  /** One that has seen the same and goes its own way. */
  readonly fork: () => Watcher
  /** Begins anew after a false signal, without the head start of work; keeps what was learnt of the noise. */
  readonly restart: () => void
}

/** The product's own chart of a cell. Where the noise is known it is kept from learning, by forgetting at each value. */
export function productWatcher(cell: ChartCell, knowledge: Knowledge, budgetYears: number): Watcher {
  const plant = plantOfCell(cell, budgetYears)
  const sides = sidesOf(cell)
  const { sigma, phi } = declaredOf(cell)
  const [named] = redundantLines(plant.points.get('P')!)

  function grab(line: GrabChart): Watcher {
    return {
      take: (atMs, value) => {
        if (knowledge === 'known') Object.assign(line.sigma, { n: 0, squares: 0, last: null })
        chartGrabPair(line, plant, plant.points.get('P')!.grab.perDay, sides, atMs, value, sigma)
        return line.chart.signalSinceMs !== null
      },
      fork: () => grab(structuredClone(line)),
      restart: () => {
        restartGrabChart(line)
        Object.assign(line.chart, { high: 0, low: 0 })
      },
    }
  }

  function redundant(line: RedundantChart): Watcher {
    return {
      take: (atMs, value) => {
        if (knowledge === 'known') {
          Object.assign(line.sigma, { n: 0, squares: 0, last: null })
          Object.assign(line, { learning: [], baseline: 0, phi })
        }
        chartDifference(line, named!, plant.points.get('P')!.analyzers.length, plant, sides, atMs, value)
        return line.chart.signalSinceMs !== null
      },
      fork: () => redundant(structuredClone(line)),
      restart: () => {
        restartRedundantChart(line)
        Object.assign(line.chart, { high: 0, low: 0 })
      },
    }
  }

  return cell.line === 'grab' ? grab(newGrabChart()) : redundant(newRedundantChart())
}

/** Days watched from delta0 on at most: no chart that needs them all comes near the best. */
const WATCHED_DAYS = 75

/** Feeds the sound days. @returns whether nothing was signalled in them */
export function watchSound(watcher: Watcher, run: Run): boolean {
  const sound = (): number => 0
  for (let i = 0; i < run.soundValues; i++) if (watcher.take(run.atMs(i), run.value(i, sound))) return false
  return true
}

/**
 * Goes on from the sound days.
 * @returns days from the true bias passing delta0 to the signal, all days watched if there is none; null where it
 *   signals before
 */
export function delayDays(watcher: Watcher, run: Run, shape: ChartShape): number | null {
  const edgeDay = run.onsetDay + ageAtBias(shape, DELTA0)
  const lastDay = edgeDay + WATCHED_DAYS
  const bias = (ageDays: number): number => biasAtAge(shape, ageDays)
  for (let i = run.soundValues; run.atDay(i) <= lastDay; i++) {
    if (watcher.take(run.atMs(i), run.value(i, bias))) return run.atDay(i) > edgeDay ? run.atDay(i) - edgeDay : null
  }
  return WATCHED_DAYS
}
