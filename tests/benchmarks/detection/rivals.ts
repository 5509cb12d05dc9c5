import { quantile } from 'simple-statistics'
import { exp } from '../../../src/statistics/distributions.js'
import { advanceEwma, type Ewma, ewmaLastingSd } from '../../../src/statistics/ewma.js'
import { advanceGlr, glrPeak, newGlrChart } from '../../../src/statistics/glrRamp.js'
import {
  advancePageHinkley,
  newPageHinkley,
  pageHinkleyExcursions,
  type PageHinkleySettings,
} from '../../../src/statistics/pageHinkley.js'
import { askedArl, BUDGET_YEARS, type ChartCell, declaredOf, DELTA0, DELTA1, series } from './chartScenario.js'
import { productWatcher, type Watcher } from './chartWatcher.js'

/** Another way of looking at the same pairs: a statistic of both sides, and what it must be above to signal. */
export interface Rival {
  readonly name: string
  /** How it is set, for the table. */
  readonly setting: string
  readonly watcher: Watcher
}

/** Takes residuals in tolerances and returns the larger side's statistic. */
type Statistic = (residual: number) => number

interface Scheme {
  readonly name: string
  readonly usual: { readonly begin: () => Statistic; readonly threshold: number; readonly setting: string }
  /** What is set otherwise, beside the threshold, to bear a bias that stands at delta0. */
  readonly tuned: { readonly begin: () => Statistic; readonly setting: string }
}

/** Weight and limits of the textbook: NIST/SEMATECH e-Handbook 6.3.2.4. */
const EWMA_LAMBDA = 0.2
const EWMA_L = 3
/** Onsets a GLR chart looks back to, values. */
const GLR_WINDOW = 60
/** Run length that the textbook's charts have without bias, values: what a chart of no usual limit is set to. */
const TEXTBOOK_ARL = 500

function schemes(firstSeed: number, cell: ChartCell): readonly Scheme[] {
  const { sigma } = declaredOf(cell)
  const fixed = () => (residual: number) => Math.abs(residual)
  const ewma = () => ewmaStatistic(sigma)
  // Defaults of packages for learning from streams, on values in sigma: common practice, no source.
  const running = () => pageHinkley(sigma, { delta: 0.005, forgetting: 0.9999 })
  // About zero it is the textbook's CUSUM of k 1/2 and h 5: NIST/SEMATECH e-Handbook 6.3.2.3.
  const aboutZero = () => pageHinkley(sigma, { delta: 0.5, knownMean: 0 })
  const banded = () => pageHinkley(sigma, { delta: (DELTA0 + DELTA1) / (2 * sigma), knownMean: 0 })
  const ramp = () => glrRamp(sigma, 0)
  const textbook = thresholdOf(firstSeed, cell, ramp, { bias: 0, arl: TEXTBOOK_ARL })
  return [
    {
      name: 'fixed alarm',
      usual: { begin: fixed, threshold: 1, setting: '±10 %, one pair' },
      tuned: { begin: fixed, setting: 'one pair' },
    },
    {
      name: 'EWMA',
      usual: { begin: ewma, threshold: EWMA_L, setting: 'λ 0.2, L 3' },
      tuned: { begin: ewma, setting: 'λ 0.2' },
    },
    {
      name: 'Page–Hinkley, running mean',
      usual: { begin: running, threshold: 50, setting: 'δ 0.005, λ 50' },
      tuned: { begin: running, setting: 'δ 0.005' },
    },
    {
      name: 'Page–Hinkley about zero',
      usual: { begin: aboutZero, threshold: 5, setting: 'δ 0.5, λ 5' },
      tuned: { begin: banded, setting: 'δ midway delta0 to delta1' },
    },
    {
      name: 'GLR of a ramp',
      usual: {
        begin: ramp,
        threshold: textbook,
        setting: `one in ${TEXTBOOK_ARL} values, above ${textbook.toPrecision(3)}`,
      },
      tuned: { begin: () => glrRamp(sigma, DELTA0), setting: 'from delta0 on' },
    },
  ]
}

/** Every rival as usually set and at the product's budget, then the product. @param firstSeed for the calibration */
export function rivalsOf(firstSeed: number, cell: ChartCell): readonly Rival[] {
  return [
    ...schemes(firstSeed, cell).flatMap(({ name, usual, tuned }) => {
      const threshold = thresholdOf(firstSeed, cell, tuned.begin, { bias: DELTA0, arl: askedArl(cell) })
      return [
        { name, setting: usual.setting, watcher: statisticWatcher(usual.begin, usual.threshold) },
        {
          name,
          setting: `same budget: ${tuned.setting}, above ${threshold.toPrecision(3)}`,
          watcher: statisticWatcher(tuned.begin, threshold),
        },
      ]
    }),
    { name: 'turbidrift', setting: 'noise learnt', watcher: productWatcher(cell, 'learnt', BUDGET_YEARS) },
  ]
}

function statisticWatcher(begin: () => Statistic, threshold: number): Watcher {
  let statistic = begin()
  return {
    take: (_, value) => statistic(value) > threshold,
    fork: () => statisticWatcher(begin, threshold),
    restart: () => {
      statistic = begin()
    },
  }
}

const PATHS = 250
/** Length of a calibrating path as a share of the asked run length: of five paths one signals. */
const PATH_SHARE = 0.25

/**
 * Threshold that has the asked run length with the bias standing there: run lengths are nearly exponential, so of
 * paths as long as a share q of it 1 − exp(−q) signal, and the threshold is that quantile of their largest values.
 */
function thresholdOf(
  firstSeed: number,
  cell: ChartCell,
  begin: () => Statistic,
  asked: { readonly bias: number; readonly arl: number },
): number {
  const length = Math.round(PATH_SHARE * asked.arl)
  const largest = Array.from({ length: PATHS }, (_, path) => {
    const errorAt = series(firstSeed, `calibration ${path}`, declaredOf(cell))
    const statistic = begin()
    let most = 0
    for (let i = 0; i < length; i++) most = Math.max(most, statistic(asked.bias + errorAt(i)))
    return most
  })
  return quantile(largest, exp(-PATH_SHARE))
}

function ewmaStatistic(sigma: number): Statistic {
  const sd = ewmaLastingSd(EWMA_LAMBDA, sigma)
  let state: Ewma = { z: 0, fading: 1 }
  return residual => {
    state = advanceEwma(state, residual, EWMA_LAMBDA)
    return Math.abs(state.z) / sd
  }
}

function pageHinkley(sigma: number, settings: PageHinkleySettings): Statistic {
  let state = newPageHinkley()
  return residual => {
    state = advancePageHinkley(state, residual / sigma, settings)
    const { high, low } = pageHinkleyExcursions(state)
    return Math.max(high, low)
  }
}

/** Growth from the edge of a band on either side, or from zero. */
function glrRamp(sigma: number, edge: number): Statistic {
  const settings = { shape: 'ramp', window: GLR_WINDOW } as const
  let high = newGlrChart()
  let low = newGlrChart()
  return residual => {
    high = advanceGlr(high, residual - edge, sigma, settings)
    low = advanceGlr(low, residual + edge, sigma, settings)
    return Math.max(glrPeak(high, 'high').statistic, glrPeak(low, 'low').statistic)
  }
}
