import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { advanceTabularCusum } from '../../src/statistics/cusum.js'
import {
  advancePageHinkley,
  newPageHinkley,
  pageHinkleyExcursions,
  type PageHinkley,
  type PageHinkleySettings,
} from '../../src/statistics/pageHinkley.js'

const runs = { seed: 20_260_312, numRuns: 200 } // the seed only pins the generated cases
const series = fc.array(fc.double({ min: -100, max: 100, noNaN: true }), { maxLength: 40 })
const onGrid = fc.array(fc.integer({ min: -12, max: 12 }), { maxLength: 40 })
const delta = fc.double({ min: 0, max: 5, noNaN: true })

function stateAfter(x: readonly number[], settings: PageHinkleySettings): PageHinkley {
  return x.reduce((state, value) => advancePageHinkley(state, value, settings), newPageHinkley())
}

function excursionsAfter(x: readonly number[], settings: PageHinkleySettings): { high: number; low: number } {
  return pageHinkleyExcursions(stateAfter(x, settings))
}

// From the definition: every mean and every sum anew from the values themselves.
function riseByDefinition(x: readonly number[], { delta: allowance, forgetting = 1 }: PageHinkleySettings): number {
  const terms = x.map((value, i) => value - x.slice(0, i + 1).reduce((a, b) => a + b, 0) / (i + 1) - allowance)
  const sums = x.map((_, t) => terms.slice(0, t + 1).reduce((sum, term, i) => sum + term * forgetting ** (t - i), 0))
  return (sums.at(-1) ?? 0) - Math.min(0, ...sums)
}

describe('Page–Hinkley test', () => {
  it('equals the definition on both sides, with and without forgetting', () => {
    fc.assert(
      fc.property(series, delta, fc.constantFrom(1, 0.999, 0.9), (x, d, forgetting) => {
        const settings = { delta: d, forgetting }
        const { high, low } = excursionsAfter(x, settings)
        const mirrored = x.map(value => -value)
        expect(Math.abs(high - riseByDefinition(x, settings))).toBeLessThan(1e-8)
        expect(Math.abs(low - riseByDefinition(mirrored, settings))).toBeLessThan(1e-8)
      }),
      runs,
    )
  })

  it('is the tabular CUSUM with k = δ where the mean is known', () => {
    fc.assert(
      fc.property(onGrid, fc.integer({ min: 0, max: 8 }), fc.integer({ min: -4, max: 4 }), (grid, d, knownMean) => {
        const x = grid.map(value => value / 4)
        let state = newPageHinkley()
        let upper = 0
        let lower = 0
        for (const value of x) {
          state = advancePageHinkley(state, value, { delta: d / 4, knownMean })
          upper = advanceTabularCusum(upper, value - knownMean, d / 4)
          lower = advanceTabularCusum(lower, knownMean - value, d / 4)
          expect(pageHinkleyExcursions(state)).toEqual({ high: upper, low: lower })
        }
      }),
      runs,
    )
  })

  it('does not mind a shift, and a scale of either sign scales or swaps the sides', () => {
    fc.assert(
      fc.property(series, delta, fc.integer({ min: -100, max: 100 }), fc.constantFrom(0.5, 3), (x, d, a, b) => {
        const plain = excursionsAfter(x, { delta: d })
        const moved = excursionsAfter(
          x.map(value => a + b * value),
          { delta: b * d },
        )
        const mirrored = excursionsAfter(
          x.map(value => -value),
          { delta: d },
        )
        expect(Math.abs(moved.high - b * plain.high)).toBeLessThan(1e-8)
        expect(Math.abs(moved.low - b * plain.low)).toBeLessThan(1e-8)
        expect(mirrored).toEqual({ high: plain.low, low: plain.high })
      }),
      runs,
    )
  })

  it('stands at zero before and at the first value, and for a constant series', () => {
    expect(excursionsAfter([], { delta: 0 })).toEqual({ high: 0, low: 0 })
    expect(excursionsAfter([1e6], { delta: 0.5 })).toEqual({ high: 0, low: 0 })
    expect(excursionsAfter(Array<number>(50).fill(0.1), { delta: 0 })).toEqual({ high: 0, low: 0 })
    expect(excursionsAfter(Array<number>(50).fill(0.1), { delta: 0.25 })).toEqual({ high: 0, low: 0 })
  })

  it('counts half of a second value, since its mean takes the other half', () => {
    expect(excursionsAfter([0, 4], { delta: 0.5 })).toEqual({ high: 1.5, low: 0 }) // by hand: 4 − 2 − 0.5
  })

  it('goes on from a stored state as if nothing had happened', () => {
    const settings = { delta: 0.1, forgetting: 0.99 }
    const stored = JSON.parse(JSON.stringify(stateAfter([1, 2, 0], settings))) as PageHinkley
    expect(advancePageHinkley(stored, 3, settings)).toEqual(stateAfter([1, 2, 0, 3], settings))
  })

  it('refuses what would spoil the sums for good, naming it', () => {
    const start = newPageHinkley()
    expect(() => advancePageHinkley(start, Infinity, { delta: 0 })).toThrow(
      /value must be a finite number, got Infinity/,
    )
    expect(() => advancePageHinkley(start, 1, { delta: -1 })).toThrow(/delta must be a finite number from 0, got -1/)
    expect(() => advancePageHinkley(start, 1, { delta: 0, forgetting: 0 })).toThrow(/forgetting must be above 0/)
    expect(() => advancePageHinkley(start, 1, { delta: 0, knownMean: NaN })).toThrow(
      /knownMean must be a finite number/,
    )
  })
})
