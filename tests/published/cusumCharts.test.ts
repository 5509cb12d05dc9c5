import { describe, expect, it } from 'vitest'
import { advanceTwoSidedCusum, startTwoSidedCusum } from '../../src/statistics/cusum.js'
import { cusumPath } from '../../src/statistics/cusumPath.js'
import { expectWithin, readReference } from './reference.js'

// Standards item C1: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.3 (doi 10.18434/M32189). Data units; the
// page prints two decimals and breaks ties either way.
describe('e-Handbook 6.3.2.3, tabular CUSUM', () => {
  const x = [
    324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325,
    327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
  ]
  const high = [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
  const low = [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0]
  const limits = { k: 0.3175, h: 4.1959 }
  const upper = cusumPath(
    x.map(value => value - 325),
    limits,
  )
  const lower = cusumPath(
    x.map(value => 325 - value),
    limits,
  )

  it('gives both columns', () => {
    upper.sums.forEach((sum, i) => {
      expectWithin(sum, high[i] ?? NaN, { absolute: 1e-10 }, `S_hi ${i + 1}`)
    })
    lower.sums.forEach((sum, i) => {
      expectWithin(sum, low[i] ?? NaN, { absolute: 1e-10 }, `S_lo ${i + 1}`)
    })
  })

  it('signals at observation 14 on the high side, begun at 13, and never on the low side', () => {
    expect((upper.signalIndex ?? NaN) + 1).toBe(14)
    expect((upper.onsetIndex ?? NaN) + 1).toBe(13)
    expect(lower.signalIndex).toBeNull()
  })
})

// Standards item C3: Montgomery, Introduction to Statistical Quality Control, tables 9.1 and 9.2 (8th edition).
describe('Montgomery tables 9.1 and 9.2', () => {
  const x = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08, 9.37, 10.62, 10.31,
    8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52,
  ]
  const upperPrinted = [
    0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1, 0, 0, 0, 0.97, 0.98, 0, 0, 0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79, 2.89, 3.47,
    3.35, 4.47, 5.28, 5.3,
  ]
  const lowerPrinted = [
    0.05, 1.56, 1.77, 0, 0, 0, 1.46, 0, 0.3, 0, 0.47, 0, 0, 0.1, 0, 0.13, 0, 0, 0.98, 0, 0, 0.17, 0, 0, 0, 0, 0, 0, 0,
    0,
  ]
  const upper = cusumPath(
    x.map(value => value - 10),
    { k: 0.5, h: 5 },
  )
  const lower = cusumPath(
    x.map(value => 10 - value),
    { k: 0.5, h: 5 },
  )

  it('gives both columns', () => {
    upper.sums.forEach((sum, i) => {
      expectWithin(sum, upperPrinted[i] ?? NaN, { absolute: 1e-9 }, `C+ ${i + 1}`)
    })
    lower.sums.forEach((sum, i) => {
      expectWithin(sum, lowerPrinted[i] ?? NaN, { absolute: 1e-9 }, `C− ${i + 1}`)
    })
  })

  it('signals at 29 after seven values above zero and estimates the new mean as 11.25', () => {
    expect((upper.signalIndex ?? NaN) + 1).toBe(29)
    expect((upper.signalIndex ?? NaN) - (upper.lastZeroIndex ?? NaN)).toBe(7)
    expect(10 + (upper.meanEstimate ?? NaN)).toBeCloseTo(11.25, 2)
    expect(lower.signalIndex).toBeNull()
  })

  // The book counts the values above zero in its column N+.
  it('counts the values since the last zero', () => {
    const counts = [0, 0, 0, 1, 2, 3, 4, 5, 0, 0, 0, 1, 2, 0, 0, 0, 1, 0, 0, 1, 2, 0, 1, 2, 3, 4, 5, 6, 7, 8]
    let state = startTwoSidedCusum()
    const counted = x.map(value => (state = advanceTwoSidedCusum(state, value - 10 - 0.5, 10 - value - 0.5)).highRun)
    expect(counted).toEqual(counts)
  })
})

// Standards item C5.9: a constant input above k signals at floor(h/(z − k)) + 1; binary-exact values only.
describe('constant input', () => {
  it.each([
    [4, 1, 9],
    [5, 1.5, 6],
    [5, 2.5, 3],
    [5, 5.5, 2],
  ])('h %d, z %d signals at %i', (h, z, n) => {
    expect(cusumPath(Array<number>(20).fill(z), { k: 0.5, h }).signalIndex).toBe(n - 1)
  })
})

// Exact rational arithmetic: reference/cusum-paths.json.
interface Input {
  readonly chart?: string
  readonly z: readonly number[]
  readonly k: number
  readonly h: number
  readonly headStart: number
  readonly winsoriseAt?: number
}
interface Expected {
  readonly upper: readonly number[]
  readonly lower: readonly number[]
  readonly signalIndex: number | null
  readonly signalSide: 'upper' | 'lower' | null
  readonly lastZeroIndex?: number
  readonly onsetIndex?: number
  readonly shiftEstimate?: number | null
}

describe('paths against exact arithmetic', () => {
  const entries = readReference<Input, Expected>('cusum-paths').filter(entry => entry.input.chart === undefined)
  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (_id, { input, expected }) => {
    const clip = input.winsoriseAt ?? Infinity
    const z = input.z.map(value => Math.max(-clip, Math.min(clip, value)))
    const upper = cusumPath(z, input)
    const lower = cusumPath(
      z.map(value => -value),
      input,
    )
    const within = { absolute: 1e-12, relative: 1e-12 }
    expect(upper.sums).toHaveLength(expected.upper.length)
    let both = startTwoSidedCusum(input.headStart)
    z.forEach((value, i) => {
      both = advanceTwoSidedCusum(both, value - input.k, -value - input.k)
      expectWithin(both.high, expected.upper[i] ?? NaN, within, `upper ${i} of both`)
      expectWithin(both.low, expected.lower[i] ?? NaN, within, `lower ${i} of both`)
    })
    upper.sums.forEach((sum, i) => {
      expectWithin(sum, expected.upper[i] ?? NaN, within, `upper ${i}`)
    })
    lower.sums.forEach((sum, i) => {
      expectWithin(sum, expected.lower[i] ?? NaN, within, `lower ${i}`)
    })
    if (expected.signalIndex === null) {
      expect([upper.signalIndex, lower.signalIndex]).toEqual([null, null])
      return
    }
    const [signalling, sign] = expected.signalSide === 'upper' ? ([upper, 1] as const) : ([lower, -1] as const)
    expect(signalling.signalIndex).toBe(expected.signalIndex)
    expect(signalling.lastZeroIndex).toBe(expected.lastZeroIndex)
    expect(signalling.onsetIndex).toBe(expected.onsetIndex)
    if (signalling.meanEstimate === null) expect(expected.shiftEstimate).toBeNull()
    else expectWithin(sign * signalling.meanEstimate, expected.shiftEstimate ?? NaN, within, 'shift estimate')
  })
})
