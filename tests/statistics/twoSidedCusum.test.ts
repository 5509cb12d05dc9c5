import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  advanceTwoSidedCusum,
  deadBandIncrement,
  startTwoSidedCusum,
  type TwoSidedCusum,
} from '../../src/statistics/cusum.js'
import { cusumPath } from '../../src/statistics/cusumPath.js'

const runs = { seed: 20_260_316, numRuns: 200 } // the seed only pins the generated cases
// In steps of 1/8, so that sums are exact and ties with the limit frequent.
const grid = fc.array(
  fc.integer({ min: -32, max: 32 }).map(step => step / 8),
  { maxLength: 60 },
)
const eighths = (most: number) => fc.integer({ min: 1, max: 8 * most }).map(step => step / 8)

function tabularStates(z: readonly number[], k: number, start: TwoSidedCusum): readonly TwoSidedCusum[] {
  let state = start
  return z.map(value => (state = advanceTwoSidedCusum(state, value - k, -value - k)))
}

// From the definition: the sum is what the increments add up to over the best of all starts, the head start counting
// for the first of them only.
function sumByDefinition(increments: readonly number[], headStart: number): number {
  const sumFrom = (i: number) => increments.slice(i).reduce((a, b) => a + b, 0)
  return Math.max(0, headStart + sumFrom(0), ...increments.map((_, i) => sumFrom(i)))
}

// Log density of N(delta, u²) up to a constant, and from it the increment as a ratio of two densities.
const logDensity = (r: number, u: number, delta: number) => -0.5 * ((r - delta) / u) ** 2
const logRatio = (r: number, u: number) => logDensity(r, u, 0.6) - logDensity(r, u, 0.25)

describe('two-sided CUSUM', () => {
  it('follows the whole path of either side, with its onset and mean at the signal', () => {
    fc.assert(
      fc.property(grid, eighths(2), eighths(6), fc.boolean(), (z, k, h, withHeadStart) => {
        const headStart = withHeadStart ? h / 2 : 0
        const states = tabularStates(z, k, startTwoSidedCusum(headStart))
        const mirrored = z.map(value => -value)
        for (const [path, sumOf, runOf] of [
          [cusumPath(z, { k, h, headStart }), (s: TwoSidedCusum) => s.high, (s: TwoSidedCusum) => s.highRun],
          [cusumPath(mirrored, { k, h, headStart }), (s: TwoSidedCusum) => s.low, (s: TwoSidedCusum) => s.lowRun],
        ] as const) {
          expect(states.map(sumOf)).toEqual(path.sums)
          const at = states.findIndex(state => sumOf(state) > h)
          expect(at).toBe(path.signalIndex ?? -1)
          const signalled = states[at]
          if (signalled === undefined) continue
          expect(at - runOf(signalled) + 1).toBe(path.onsetIndex)
          if (path.meanEstimate !== null) expect(k + sumOf(signalled) / runOf(signalled)).toBe(path.meanEstimate)
        }
      }),
      runs,
    )
  })

  it('equals the best of all starts, head start, capped increments and unequal u included', () => {
    const residuals = fc.array(
      fc.record({
        r: fc.double({ min: -3, max: 3, noNaN: true }),
        u: fc.double({ min: 0.1, max: 2, noNaN: true }),
      }),
      { maxLength: 40 },
    )
    const caps = fc.oneof(fc.constant(Infinity), fc.double({ min: 0.1, max: 5, noNaN: true }))
    fc.assert(
      fc.property(residuals, caps, fc.double({ min: 0, max: 4, noNaN: true }), (values, cap, headStart) => {
        let state = startTwoSidedCusum(headStart)
        for (const { r, u } of values)
          state = advanceTwoSidedCusum(
            state,
            deadBandIncrement(r, u, 0.25, 0.6),
            deadBandIncrement(-r, u, 0.25, 0.6),
            cap,
          )
        const high = sumByDefinition(
          values.map(({ r, u }) => Math.min(cap, logRatio(r, u))),
          headStart,
        )
        const low = sumByDefinition(
          values.map(({ r, u }) => Math.min(cap, logRatio(-r, u))),
          headStart,
        )
        expect(Math.abs(state.high - high)).toBeLessThan(1e-9 * (1 + high))
        expect(Math.abs(state.low - low)).toBeLessThan(1e-9 * (1 + low))
      }),
      runs,
    )
  })

  it('signals, restarted after each signal, where the pieces between signals do', () => {
    fc.assert(
      fc.property(grid, eighths(1), eighths(4), (z, k, h) => {
        const restart = startTwoSidedCusum(h / 4)
        let state = startTwoSidedCusum()
        const streamed: number[] = []
        z.forEach((value, i) => {
          state = advanceTwoSidedCusum(state, value - k, -value - k)
          if (state.high <= h && state.low <= h) return
          streamed.push(i)
          state = restart
        })
        const inPieces: number[] = []
        for (let from = 0; ; from = (inPieces.at(-1) ?? NaN) + 1) {
          const headStart = inPieces.length === 0 ? 0 : h / 4
          const piece = z.slice(from)
          const upper = cusumPath(piece, { k, h, headStart }).signalIndex ?? Infinity
          const mirrored = piece.map(value => -value)
          const first = Math.min(upper, cusumPath(mirrored, { k, h, headStart }).signalIndex ?? Infinity)
          if (first === Infinity) break
          inPieces.push(from + first)
        }
        expect(streamed).toEqual(inPieces)
      }),
      runs,
    )
  })

  it('scales with its unit, and a mirrored series swaps the sides', () => {
    fc.assert(
      fc.property(grid, eighths(2), fc.constantFrom(0.25, 8), (z, k, b) => {
        const plain = tabularStates(z, k, startTwoSidedCusum(1))
        const moved = tabularStates(
          z.map(value => -b * value),
          b * k,
          startTwoSidedCusum(b),
        )
        const swapped = plain.map(({ high, low, highRun, lowRun }) => ({
          high: b * low,
          low: b * high,
          highRun: lowRun,
          lowRun: highRun,
        }))
        expect(moved).toEqual(swapped)
      }),
      runs,
    )
  })

  it('stands where it starts before a value, and works a head start off in a quiet series', () => {
    expect(startTwoSidedCusum(2)).toEqual({ high: 2, low: 2, highRun: 0, lowRun: 0 })
    expect(tabularStates([0, 0, 0], 0.5, startTwoSidedCusum(1)).map(({ highRun }) => highRun)).toEqual([1, 0, 0])
    expect(tabularStates([1], 0.5, startTwoSidedCusum())).toEqual([{ high: 0.5, low: 0, highRun: 1, lowRun: 0 }])
  })

  it('goes on from a stored state as if nothing had happened', () => {
    const [, second, third] = tabularStates([1, -2, 3], 0.5, startTwoSidedCusum(1))
    const stored = JSON.parse(JSON.stringify(second)) as TwoSidedCusum
    expect(advanceTwoSidedCusum(stored, 2.5, -3.5)).toEqual(third)
  })

  it('refuses what would spoil the sums for good, naming it', () => {
    expect(() => advanceTwoSidedCusum(startTwoSidedCusum(), NaN, 1)).toThrow(/must be numbers, got NaN, 1 and Infinity/)
    expect(() => startTwoSidedCusum(-1)).toThrow(/headStart must be a finite number from 0, got -1/)
  })
})
