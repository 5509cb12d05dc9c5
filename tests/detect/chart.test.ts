import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  advanceChart,
  CAP_FRACTION,
  type Chart,
  chartShare,
  leadingSide,
  newChart,
  restartChart,
} from '../../src/detect/chart.js'
import { advanceTabularCusum } from '../../src/statistics/cusum.js'

const DELTAS = { delta0: 0.25, delta1: 0.6 }
const LIMIT = 6

function chartWith(limit = LIMIT): Chart {
  return { ...newChart(), limit }
}

function feed(chart: Chart, residuals: readonly number[], u = 0.3): Chart {
  residuals.forEach((residual, i) => {
    advanceChart(chart, { atMs: i + 1, residual, u, ...DELTAS })
  })
  return chart
}

describe('the chart', () => {
  it.each([
    [1, false],
    [2, false],
    [3, true],
  ])('%d wild values in a row: signal %s', (n, signals) => {
    for (const wild of [1e6, -1e6]) {
      expect(feed(chartWith(), Array<number>(n).fill(wild)).signalSinceMs !== null).toBe(signals)
    }
  })

  it('needs three wild values after work too, head start and all', () => {
    const chart = chartWith()
    restartChart(chart)
    expect(chart.high).toBeCloseTo(0.15 * LIMIT, 12)
    expect(feed(chart, [1e6, 1e6]).signalSinceMs).toBeNull()
    expect(feed(chart, [1e6]).signalSinceMs).toBe(1)
  })

  it('is the tabular CUSUM of (r − δ0)/u with k = (δ1 − δ0)/2u in units of 2k, while no cap is met', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { maxLength: 60 }),
        fc.double({ min: 0.1, max: 1, noNaN: true }),
        (residuals, u) => {
          const k = (DELTAS.delta1 - DELTAS.delta0) / (2 * u)
          const chart = chartWith(1e9)
          let upper = 0
          let lower = 0
          residuals.forEach((residual, i) => {
            advanceChart(chart, { atMs: i, residual, u, ...DELTAS })
            upper = advanceTabularCusum(upper, (residual - DELTAS.delta0) / u, k)
            lower = advanceTabularCusum(lower, (-residual - DELTAS.delta0) / u, k)
            expect(chart.high).toBeCloseTo(2 * k * upper, 6)
            expect(chart.low).toBeCloseTo(2 * k * lower, 6)
          })
        },
      ),
      { seed: 20_260_302, numRuns: 200 },
    )
  })

  it('stays between zero and twice the limit and rises by no more than the cap', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: -30, max: 30, noNaN: true }), { maxLength: 80 }), residuals => {
        const chart = chartWith()
        residuals.forEach((residual, i) => {
          const { high, low } = chart
          advanceChart(chart, { atMs: i, residual, u: 0.3, ...DELTAS })
          expect(Math.max(chart.high - high, chart.low - low)).toBeLessThanOrEqual(CAP_FRACTION * LIMIT + 1e-12)
          expect(Math.min(chart.high, chart.low)).toBeGreaterThanOrEqual(0)
          expect(Math.max(chart.high, chart.low)).toBeLessThanOrEqual(2 * LIMIT)
        })
        expect(chart.n).toBe(residuals.length)
      }),
      { seed: 20_260_303, numRuns: 200 },
    )
  })

  it('mirrors its sides', () => {
    const residuals = [0.4, 0.7, 0.2, 0.9, -0.3, 0.8]
    const up = feed(chartWith(), residuals)
    const down = feed(
      chartWith(),
      residuals.map(r => -r),
    )
    expect([down.low, down.high, down.lowFromMs]).toEqual([up.high, up.low, up.highFromMs])
    expect([leadingSide(up), leadingSide(down)]).toEqual(['high', 'low'])
  })

  it('is not moved by a bias inside the dead band', () => {
    const chart = feed(chartWith(), Array<number>(500).fill(0.42))
    expect([chart.high, chart.low]).toEqual([0, 0])
    expect(chartShare(chart)).toBe(0)
  })

  it('lets a precise value weigh more than a vague one', () => {
    const precise = feed(chartWith(1e3), [1], 0.2)
    const vague = feed(chartWith(1e3), [1], 0.4)
    expect(precise.high / vague.high).toBeCloseTo(4, 9)
  })

  it('remembers where its side began to rise and since when it signals, and forgets both', () => {
    const chart = feed(chartWith(), [0, 0, 1, 1, 1, 1, 1, 1])
    expect(chart.highFromMs).toBe(3)
    expect(chart.signalSinceMs).toBeGreaterThan(3)
    expect(chartShare(chart)).toBeGreaterThan(1)
    feed(chart, Array<number>(30).fill(0))
    expect([chart.signalSinceMs, chart.highFromMs]).toEqual([null, null])
  })

  it('restarts at work with everything forgotten but its limit', () => {
    const chart = feed(chartWith(), Array<number>(9).fill(1))
    restartChart(chart)
    expect(chart).toEqual({ ...chartWith(), high: 0.15 * LIMIT, low: 0.15 * LIMIT })
  })

  it('has no share before its limit is known', () => {
    expect(chartShare(newChart())).toBe(0)
  })
})
