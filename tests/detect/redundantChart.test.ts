import { describe, expect, it } from 'vitest'
import { redundantLines } from '../../src/compare/redundant.js'
import {
  chartDifference,
  newRedundantChart,
  type RedundantChart,
  restartRedundantChart,
} from '../../src/detect/redundantChart.js'
import { HOUR_MS } from '../../src/model/time.js'
import { plantOf, pointOf, START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

const PLANT = plantOf()
const [PAIR] = redundantLines(pointOf('FE3', PLANT))
const SIGMA = 0.08 * Math.SQRT2

function feed(line: RedundantChart, values: readonly (number | null)[]) {
  return values.map((value, i) => chartDifference(line, PAIR!, 2, PLANT, 4, START_MS + i * 6 * HOUR_MS, value))
}

/** AR(1) about a mean. */
function series(n: number, phi: number, mean = 0, seed = 3): number[] {
  const normal = normalSource(seed)
  let before = (SIGMA / Math.sqrt(1 - phi * phi)) * normal()
  return Array.from({ length: n }, () => mean + (before = phi * before + SIGMA * normal()))
}

describe('redundant chart', () => {
  it.each([
    [0.1, 0.1],
    [-0.1, -0.1],
    [0.9, 0.25],
    [-3, -0.25],
  ])('learns a standing difference of %d as %d, never more than delta0', (value, baseline) => {
    const line = newRedundantChart()
    feed(line, Array<number>(56).fill(value))
    expect(Math.abs(line.baseline - baseline)).toBeLessThan(0.01)
  })

  it('what exceeds delta0 from the begin is a signal and teaches nothing', () => {
    const line = newRedundantChart()
    feed(line, series(56, 0.4, 1.2))
    expect(line.chart.signalSinceMs).not.toBeNull()
    expect(line.learning.length).toBeLessThan(56)
  })

  it('learns for 56 windows and then stands', () => {
    const line = newRedundantChart()
    feed(line, series(56, 0.4))
    const { baseline, phi } = line
    feed(line, Array<number>(20).fill(0.2))
    expect([line.baseline, line.phi, line.learning.length]).toEqual([baseline, phi, 56])
  })

  it('shrinks its autocorrelation to 0.4, by a prior worth 15 values', () => {
    const phis = [1, 2, 3, 4, 5, 6, 7, 8].map(seed => {
      const line = newRedundantChart()
      feed(line, series(56, 0, 0, seed))
      return line.phi
    })
    const mean = phis.reduce((sum, phi) => sum + phi, 0) / phis.length
    expect(mean).toBeGreaterThan(0.02)
    expect(mean).toBeLessThan(0.18) // (15 · 0.4 + 56 · 0) / 71 = 0.08
  })

  it('takes a day to a value where windows are too alike', () => {
    const line = newRedundantChart()
    feed(
      line,
      Array.from({ length: 56 }, (_, i) => 0.2 * Math.sin(i / 9)),
    )
    expect(line.windowsPerValue).toBe(4)
    // The first window here ends a day: one value is too few for it. Two of four are enough, whatever the others lack.
    const charted = feed(line, [0.1, 0.3, 0.2, 0.2, 0.1, null, 0.4, null, 0.2])
    expect(charted.map(one => one !== undefined)).toEqual([false, false, false, false, true, false, false, false, true])
    expect(charted[4]?.ofTolerance).toBeCloseTo(0.2 - line.baseline, 9)
    expect(charted[8]?.ofTolerance).toBeCloseTo(0.3 - line.baseline, 9)
  })

  it('charts no innovation over a gap', () => {
    const line = newRedundantChart()
    feed(line, [0, 0, 0])
    expect(line.chart.n).toBe(2)
    feed(line, [null, 5])
    expect(line.chart.n).toBe(2)
    expect(line.chart.high).toBe(0)
  })

  it('an innovation is what the value before did not foretell', () => {
    const line = newRedundantChart()
    feed(line, series(57, 0.4))
    const before = line.last!
    const { phi, baseline } = line
    line.chart.high = 0
    const value = 1.5
    const sum = line.chart
    feed(line, [value])
    const innovation = value - baseline - phi * (before - baseline)
    const share = 1 - phi
    const u = feed(newRedundantChart(), [0])[0]!.uOfTolerance
    expect(u).toBeCloseTo(SIGMA, 12)
    expect(innovation).toBeGreaterThan(share * 0.6)
    expect(sum.high).toBeLessThanOrEqual(0.4 * sum.limit + 1e-12)
    expect(sum.high).toBeGreaterThan(0)
  })

  it('starts afresh at work: baseline forgotten, autocorrelation kept', () => {
    const line = newRedundantChart()
    feed(line, series(60, 0.4, 0.1))
    const { phi } = line
    restartRedundantChart(line)
    expect(line).toMatchObject({ baseline: 0, learning: [], last: null, waiting: [], phi })
  })
})
