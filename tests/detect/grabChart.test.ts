import { describe, expect, it } from 'vitest'
import { chartShare } from '../../src/detect/chart.js'
import { chartGrabPair, type GrabChart, newGrabChart, rescale, restartGrabChart } from '../../src/detect/grabChart.js'
import { DAY_MS } from '../../src/model/time.js'
import { plantOf, START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

const PLANT = plantOf()
const U = 0.25
const PLANNED = 2

/** Pairs at a rate, from an instant on. @returns instant after the last */
function feed(line: GrabChart, fromMs: number, days: number, perDay: number, residual: (i: number) => number): number {
  const n = Math.round(days * perDay)
  for (let i = 0; i < n; i++) chartGrabPair(line, PLANT, PLANNED, 2, fromMs + (i * DAY_MS) / perDay, residual(i), U)
  return fromMs + days * DAY_MS
}

describe('grab chart', () => {
  it.each([
    ['as planned', 2, false],
    ['half as many again', 3, false],
    ['two thirds', 1.4, false],
    ['more than twice as many', 4.6, true],
    ['less than half', 0.8, true],
  ])('%s: the limit is solved anew only when the rate is off by a factor of two', (_, perDay, anew) => {
    const line = newGrabChart()
    const alternating = (i: number) => (i % 2 === 0 ? U : -U)
    feed(line, START_MS, 1, PLANNED, alternating)
    const { solvedFor } = line.chart
    feed(line, START_MS + DAY_MS, 40, perDay, alternating)
    expect(line.chart.perDay !== PLANNED).toBe(anew)
    if (anew) {
      expect(line.chart.perDay / perDay).toBeGreaterThan(0.8)
      expect(line.chart.perDay / perDay).toBeLessThan(1.25)
      expect(line.chart.solvedFor).not.toBe(solvedFor)
    }
  })

  it('keeps how far it had come when the limit changes', () => {
    const line = newGrabChart()
    feed(line, START_MS, 2, PLANNED, () => 0.6)
    const share = chartShare(line.chart)
    expect(share).toBeGreaterThan(0.1)
    rescale(line.chart, 3 * line.chart.limit, 'another')
    expect(chartShare(line.chart)).toBeCloseTo(share, 12)
  })

  it('signals on a bias of one tolerance within four days and not on 0.2 within two months', () => {
    const normal = normalSource(21)
    const small = newGrabChart()
    feed(small, START_MS, 60, PLANNED, () => 0.2 + U * normal())
    expect(small.chart.signalSinceMs).toBeNull()
    const large = newGrabChart()
    feed(large, START_MS, 4, PLANNED, () => 1 + U * normal())
    expect(large.chart.signalSinceMs).not.toBeNull()
  })

  it('does not learn its spread while it signals', () => {
    const line = newGrabChart()
    const untilMs = feed(line, START_MS, 10, PLANNED, () => 1)
    expect(line.chart.signalSinceMs).not.toBeNull()
    const { n, squares } = line.sigma
    feed(line, untilMs, 5, PLANNED, i => (i % 2 === 0 ? 0.6 : 3))
    expect([line.sigma.n, line.sigma.squares]).toEqual([n, squares])
  })

  it('keeps the newest five residuals, 21 uncertainties and a fortnight of times', () => {
    const line = newGrabChart()
    feed(line, START_MS, 60, PLANNED, i => i / 1_000)
    expect(line.recentResiduals).toEqual([0.115, 0.116, 0.117, 0.118, 0.119])
    expect(line.recentU).toHaveLength(21)
    expect(line.recentMs).toHaveLength(28)
  })

  it('starts afresh at work, spread kept', () => {
    const line = newGrabChart()
    feed(line, START_MS, 10, PLANNED, () => 0.9)
    const { n, squares } = line.sigma
    restartGrabChart(line)
    expect(line.recentResiduals).toEqual([])
    expect([line.sigma.n, line.sigma.squares, line.sigma.last]).toEqual([n, squares, null])
    expect(chartShare(line.chart)).toBeCloseTo(0.15, 12)
  })
})
