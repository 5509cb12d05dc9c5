import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { advanceGlr, glrPeak, newGlrChart, type GlrChart, type GlrSettings } from '../../src/statistics/glrRamp.js'

const runs = { seed: 20_260_313, numRuns: 200 } // the seed only pins the generated cases
const value = fc.record({
  // In steps of 1/64: squares of the least doubles are no normal numbers any more, and not exact.
  x: fc.integer({ min: -6400, max: 6400 }).map(step => step / 64),
  sigma: fc.double({ min: 0.05, max: 20, noNaN: true }),
})
const series = fc.array(value, { maxLength: 40 })
const settings = fc.record({
  shape: fc.constantFrom('ramp' as const, 'step' as const),
  window: fc.integer({ min: 1, max: 50 }),
})

type Values = readonly { readonly x: number; readonly sigma: number }[]

function chartOf(values: Values, { shape, window }: GlrSettings): GlrChart {
  return values.reduce((chart, { x, sigma }) => advanceGlr(chart, x, sigma, { shape, window }), newGlrChart())
}

// From the definition: for each onset the gain in squared error of the best fitting size over none, halved.
function gains(values: Values, { shape, window }: GlrSettings): Map<number, { gain: number; size: number }> {
  const found = new Map<number, { gain: number; size: number }>()
  for (let onset = Math.max(0, values.length - window); onset < values.length; onset++) {
    const changed = values
      .slice(onset)
      .map(({ x, sigma }, i) => ({ y: x / sigma, f: (shape === 'ramp' ? i + 1 : 1) / sigma }))
    const size = changed.reduce((a, { y, f }) => a + y * f, 0) / changed.reduce((a, { f }) => a + f * f, 0)
    const gain = changed.reduce((a, { y, f }) => a + (y * y - (y - size * f) * (y - size * f)), 0) / 2
    found.set(onset, { gain, size })
  }
  return found
}

describe('generalised likelihood ratio of a ramp or a step', () => {
  it('is the greatest gain of likelihood of the definition, two-sided and on each side', () => {
    fc.assert(
      fc.property(series, settings, (values, s) => {
        const chart = chartOf(values, s)
        const all = gains(values, s)
        for (const only of [undefined, 'high', 'low'] as const) {
          const peak = glrPeak(chart, only)
          const allowed = [...all.values()].filter(({ size }) => only === undefined || size > 0 === (only === 'high'))
          const largest = Math.max(0, ...allowed.map(({ gain }) => gain))
          expect(Math.abs(peak.statistic - largest)).toBeLessThan(1e-9 * (1 + largest) + 1e-7)
          if (peak.onsetIndex === null) continue
          const atOnset = all.get(peak.onsetIndex)
          expect(Math.abs((atOnset?.gain ?? NaN) - largest)).toBeLessThan(1e-9 * (1 + largest) + 1e-7)
          expect(Math.abs((peak.size ?? NaN) - (atOnset?.size ?? NaN))).toBeLessThan(1e-9)
          expect(peak.side).toBe((peak.size ?? NaN) > 0 ? 'high' : 'low')
          if (only !== undefined) expect(peak.side).toBe(only)
        }
      }),
      runs,
    )
  })

  it('does not mind the unit, and a mirrored series swaps the sides', () => {
    fc.assert(
      fc.property(series, settings, fc.constantFrom(0.25, 8), (values, s, b) => {
        const peak = glrPeak(chartOf(values, s))
        const moved = glrPeak(
          chartOf(
            values.map(({ x, sigma }) => ({ x: -b * x, sigma: b * sigma })),
            s,
          ),
        )
        expect(moved.statistic).toBe(peak.statistic)
        expect(moved.onsetIndex).toBe(peak.onsetIndex)
        expect(moved.size).toBe(peak.size === null ? null : -b * peak.size)
        if (peak.side !== null) expect(moved.side).toBe(peak.side === 'high' ? 'low' : 'high')
      }),
      runs,
    )
  })

  it('holds no more onsets than the window and finds none outside', () => {
    fc.assert(
      fc.property(series, settings, (values, s) => {
        const chart = chartOf(values, s)
        expect(chart.scores).toHaveLength(Math.min(values.length, s.window))
        expect(chart.weights).toHaveLength(chart.scores.length)
        const { onsetIndex } = glrPeak(chart)
        if (onsetIndex !== null) expect(onsetIndex).toBeGreaterThanOrEqual(values.length - s.window)
      }),
      runs,
    )
  })

  it('gives onset, side and slope back for a ramp without noise', () => {
    const values = Array.from({ length: 30 }, (_, i) => ({
      x: i < 18 ? 0 : -0.5 * (i - 17),
      sigma: i % 2 === 0 ? 1 : 3,
    }))
    const { side, onsetIndex, size } = glrPeak(chartOf(values, { shape: 'ramp', window: 20 }))
    expect({ side, onsetIndex, size }).toEqual({ side: 'low', onsetIndex: 18, size: -0.5 })
  })

  it('has no side and no onset for no value and for values of zero', () => {
    const none = { statistic: 0, side: null, onsetIndex: null, size: null }
    expect(glrPeak(newGlrChart())).toEqual(none)
    const zeros = Array<Values[number]>(12).fill({ x: 0, sigma: 1 })
    expect(glrPeak(chartOf(zeros, { shape: 'ramp', window: 5 }))).toEqual(none)
    expect(glrPeak(chartOf([{ x: 2, sigma: 1 }], { shape: 'ramp', window: 5 }), 'low')).toEqual(none)
  })

  it('knows one value and two by hand', () => {
    const one = chartOf([{ x: 3, sigma: 2 }], { shape: 'ramp', window: 5 })
    expect(glrPeak(one)).toEqual({ statistic: 1.125, side: 'high', onsetIndex: 0, size: 3 }) // 3²/(2·2²)
    // From 0: (3/4 + 2·2)²/(2·(1/4 + 4)) = 2.65…; from 1: 2²/2.
    const two = glrPeak(advanceGlr(one, 2, 1, { shape: 'ramp', window: 5 }))
    expect(two.statistic).toBeCloseTo(4.75 ** 2 / 8.5, 14)
    expect(two.onsetIndex).toBe(0)
    expect(two.size).toBeCloseTo(4.75 / 4.25, 14)
  })

  it('takes the whole window for a constant, and the earliest of equal onsets', () => {
    const constant = Array<Values[number]>(9).fill({ x: 1, sigma: 1 })
    expect(glrPeak(chartOf(constant, { shape: 'step', window: 4 })).onsetIndex).toBe(5)
    const tie = [2, 2, -2, 2].map(x => ({ x, sigma: 1 })) // from 0: 4²/8, from 3: 2²/2
    expect(glrPeak(chartOf(tie, { shape: 'step', window: 4 })).onsetIndex).toBe(0)
  })

  it('goes on from a stored state as if nothing had happened', () => {
    const s = { shape: 'ramp', window: 3 } as const
    const values = [1, -2, 4, 3, 0.5].map(x => ({ x, sigma: 0.7 }))
    const stored = JSON.parse(JSON.stringify(chartOf(values, s))) as GlrChart
    expect(advanceGlr(stored, 2, 0.7, s)).toEqual(chartOf([...values, { x: 2, sigma: 0.7 }], s))
  })

  it('refuses what would spoil the sums for good, naming it', () => {
    const s = { shape: 'step', window: 3 } as const
    expect(() => advanceGlr(newGlrChart(), NaN, 1, s)).toThrow(/value must be a finite number, got NaN/)
    expect(() => advanceGlr(newGlrChart(), 1, 0, s)).toThrow(/sigma must be a finite number above 0, got 0/)
    expect(() => advanceGlr(newGlrChart(), 1, 1, { ...s, window: 0 })).toThrow(
      /window must be a whole number from 1, got 0/,
    )
  })
})
