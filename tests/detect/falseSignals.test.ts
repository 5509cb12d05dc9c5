import { describe, expect, it } from 'vitest'
import { redundantLines } from '../../src/compare/redundant.js'
import { advanceChart, newChart } from '../../src/detect/chart.js'
import { chartGrabPair, newGrabChart } from '../../src/detect/grabChart.js'
import { solveLimit } from '../../src/detect/limit.js'
import { chartDifference, newRedundantChart } from '../../src/detect/redundantChart.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { plantOf, pointOf, START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

const PLANT = plantOf()
const { delta0, delta1, analyzerYearsPerFalseAlarm } = PLANT

/** Three standard deviations of a count: a seeded simulation fails only where the rate is wrong. */
const atMost = (expected: number) => expected + 3 * Math.sqrt(expected)

describe('false signals with the true bias standing at delta0', () => {
  it('the chart alone keeps its share of the budget, and does not waste it', () => {
    const u = Math.exp(-1.25)
    const { limit, arl } = solveLimit({ u, delta0, delta1, valuesPerDay: 1, budgetYears: 5, sides: 2 })
    const normal = normalSource(1)
    const values = 1_000_000
    let signals = 0
    let chart = { ...newChart(), limit }
    for (let i = 0; i < values; i++) {
      advanceChart(chart, { atMs: i, residual: delta0 + u * normal(), u, delta0, delta1 })
      if (chart.signalSinceMs === null) continue
      signals += 1
      chart = { ...newChart(), limit }
    }
    const expected = values / arl
    expect(signals).toBeLessThan(atMost(expected))
    expect(signals).toBeGreaterThan(expected - 3 * Math.sqrt(expected))
  })

  it('the grab line with its learnt spread keeps it', () => {
    const u = 0.28
    const normal = normalSource(2)
    const analyzers = 60
    const years = 5
    let signals = 0
    for (let unit = 0; unit < analyzers; unit++) {
      let line = newGrabChart()
      for (let i = 0; i < years * 365 * 2; i++) {
        chartGrabPair(line, PLANT, 2, 2, START_MS + (i * DAY_MS) / 2, delta0 + u * normal(), u)
        if (line.chart.signalSinceMs === null) continue
        signals += 1
        line = newGrabChart()
      }
    }
    // A standing bias can signal on one of the two sides only.
    expect(signals).toBeLessThan(atMost((analyzers * years) / (2 * analyzerYearsPerFalseAlarm)))
    expect(signals).toBeGreaterThan(0)
  })

  it('the redundant line with its learnt baseline keeps it', () => {
    const [line] = redundantLines(pointOf('FE3', PLANT))
    const normal = normalSource(3)
    const sigma = 0.08 * Math.SQRT2
    const phi = 0.4
    const pairs = 50
    const years = 2
    let signals = 0
    for (let unit = 0; unit < pairs; unit++) {
      let chart = newRedundantChart()
      let noise = 0
      let since = 0
      for (let i = 0; i < years * 365 * 4; i++) {
        noise = phi * noise + sigma * normal()
        const bias = since < 56 ? 0 : delta0
        since += 1
        chartDifference(chart, line!, 2, PLANT, 4, START_MS + i * 6 * HOUR_MS, bias + noise)
        if (chart.chart.signalSinceMs === null) continue
        signals += 1
        chart = newRedundantChart()
        since = 0
      }
    }
    // One of four sides.
    expect(signals).toBeLessThan(atMost((pairs * years) / (4 * analyzerYearsPerFalseAlarm)))
  })
})
