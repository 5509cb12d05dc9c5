import { describe, expect, it } from 'vitest'
import { priorInnovation, redundantLines } from '../../src/compare/redundant.js'
import { chartSides } from '../../src/detect/budget.js'
import { chartGrabPair, newGrabChart } from '../../src/detect/grabChart.js'
import { chartDifference, newRedundantChart } from '../../src/detect/redundantChart.js'
import { HOUR_MS } from '../../src/model/time.js'
import { chiSquareQuantile } from '../../src/statistics/distributions.js'
import { plantOf, pointOf, START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

const PLANT = plantOf()
const POINT = pointOf('FE3', PLANT)
const SIDES = chartSides(POINT)
const [LINE] = redundantLines(POINT)
const { delta0, analyzerYearsPerFalseAlarm } = PLANT

const WINDOWS_PER_YEAR = 4 * 365.25
const LEARNING_WINDOWS = 56
const GRAB_U = 0.28

/** Limits of 97.5 % on each side of the mean of a Poisson count (Garwood 1936, Biometrika 28:437). */
function poissonInterval(count: number): { readonly low: number; readonly high: number } {
  return {
    low: count === 0 ? 0 : chiSquareQuantile(0.025, 2 * count) / 2,
    high: chiSquareQuantile(0.975, 2 * (count + 1)) / 2,
  }
}

/** False signals a year that the budget allows the point with its two units. */
const BUDGET_PER_YEAR = 2 / analyzerYearsPerFalseAlarm
/** Of the sides that share it two can signal: those of the unit that stands at delta0, by grab samples and by the line. */
const TWO_SIDES_PER_YEAR = BUDGET_PER_YEAR / SIDES

interface Scenario {
  readonly seed: number
  readonly years: number
  /** How six-hour differences follow each other. */
  readonly phi: number
  /** Difference that stood while the line learnt, tolerances: what its baseline should become. */
  readonly baseline: number
  /** Whether the line begins with the true phi and baseline. */
  readonly knows?: boolean
}

/**
 * First signals of two units, two grab samples a day each and one redundant line. After the fortnight of learning the
 * first unit stands at delta0 above what is normal. Any of the three charts ends the run; all begin anew.
 */
function firstSignals({ seed, years, phi, baseline, knows = false }: Scenario): number {
  const normal = normalSource(seed)
  const innovation = priorInnovation(LINE!, 2)
  let signals = 0
  let noise = (innovation * normal()) / Math.sqrt(1 - phi * phi)
  let since = 0
  let grabs = [newGrabChart(), newGrabChart()] as const
  let line = newRedundantChart()
  const begin = () => {
    since = knows ? LEARNING_WINDOWS : 0
    grabs = [newGrabChart(), newGrabChart()]
    line = newRedundantChart()
    if (knows)
      Object.assign(line, { learning: Array.from({ length: LEARNING_WINDOWS }, () => baseline), baseline, phi })
  }
  begin()
  for (let i = 0; i < years * WINDOWS_PER_YEAR; i++) {
    const atMs = START_MS + i * 6 * HOUR_MS
    const bias = since < LEARNING_WINDOWS ? 0 : delta0
    since += 1
    noise = phi * noise + innovation * normal()
    chartDifference(line, LINE!, 2, PLANT, SIDES, atMs, baseline + bias + noise)
    if (i % 2 === 0) {
      for (const [unit, grab] of grabs.entries()) {
        const residual = (unit === 0 ? bias : 0) + GRAB_U * normal()
        chartGrabPair(grab, PLANT, 2, SIDES, atMs, residual, GRAB_U)
      }
    }
    if ([...grabs, line].every(({ chart }) => chart.signalSinceMs === null)) continue
    signals += 1
    begin()
  }
  return signals
}

// Limits are solved as if every side stood at its edge at once, and the shares are added up (Bonferroni). A bias stands on
// one side only, so two of eight sides can signal, and the charts use about a quarter of the budget where all they have
// learnt is right. The ratios below are signals over the share of one side, from seeded runs of 400 years or more; at a ratio
// of one they are good to 22 %.
describe('lines that share a budget, one unit standing at delta0', () => {
  // The learnt spread costs the grab chart a sixth: its ratio is 1.1 to 1.3. The line stays at 0.25, because its dead band
  // is wider by what a learnt baseline may be off; at the edge of that band its ratio is 1.08.
  it('keep it together where phi and baseline are known', () => {
    const years = 40
    const { low, high } = poissonInterval(firstSignals({ seed: 41, years, phi: 0.4, baseline: 0, knows: true }))
    expect(high).toBeLessThan(years * BUDGET_PER_YEAR)
    expect(low).toBeLessThan(years * TWO_SIDES_PER_YEAR)
    expect(low).toBeGreaterThan(0)
  })

  // The line alone, in runs of five years: 0.5 at a true phi of 0.4, 0.7 at 0.5, 0.9 at 0.6, 1.5 at 0.7, 2.0 at 0.8. The
  // estimate is pulled to 0.4, and what it misses of stronger correlation the unused part of the budget bears.
  it('keep it together with an estimated phi, truth 0.6', () => {
    const years = 60
    const { high } = poissonInterval(firstSignals({ seed: 43, years, phi: 0.6, baseline: 0 }))
    expect(high).toBeLessThan(years * BUDGET_PER_YEAR)
  })

  // Daily medians are charted here. Half the budget of the point goes to the line; at 0.9 it would be 1.6 times the budget.
  it('keep it together with an estimated phi, truth 0.8', () => {
    const years = 20
    const { high } = poissonInterval(firstSignals({ seed: 43, years, phi: 0.8, baseline: 0 }))
    expect(high).toBeLessThan(years * BUDGET_PER_YEAR)
  })

  // Phi and baseline estimated: the ratio of the line is 0.7 for 0.5. The error is that of a fortnight's mean (0.025
  // tolerances) and the pull to zero (0.013 at 0.2), against 0.03 added to the dead band.
  it('keep it together with an estimated baseline, truth 0.2', () => {
    const years = 60
    const { low, high } = poissonInterval(firstSignals({ seed: 47, years, phi: 0.4, baseline: 0.2 }))
    expect(high).toBeLessThan(years * BUDGET_PER_YEAR)
    expect(low).toBeLessThan(years * TWO_SIDES_PER_YEAR)
  })
})
