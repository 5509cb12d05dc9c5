import { describe, expect, it } from 'vitest'
import { solveOneSidedLimit, solveTwoSidedLimit } from '../../src/statistics/solveLimit.js'
import { expectWithin, readReference } from './reference.js'

// Limits come back with six significant digits.
const sixDigits = { relative: 5.01e-6, absolute: 1e-5 }

// Standards item C8: k and h for two-sided ARL 370 (Hawkins 1993; Montgomery table 9.4), printed and recomputed.
describe('pairs of k and h for a two-sided run length of 370', () => {
  it.each([
    [0.25, 8.01, 8.0103],
    [0.5, 4.77, 4.7749],
    [0.75, 3.34, 3.3397],
    [1, 2.52, 2.5168],
    [1.25, 1.99, 1.9867],
    [1.5, 1.61, 1.6045],
  ])('k %d', (k, printed, recomputed) => {
    const h = solveTwoSidedLimit({ k, arl: 370.398 })
    expectWithin(h, printed, { absolute: 0.006 }, 'printed')
    expectWithin(h, recomputed, { absolute: 1e-4 }, 'recomputed')
  })
})

// Standards item C8b: own recomputation by another program.
describe('limits for long run lengths', () => {
  it.each([
    [500, 4.38913, 5.0707],
    [1000, 5.0707, 5.75735],
    [5000, 6.66927, 7.36079],
    [10_000, 7.36079, 8.05305],
    [50_000, 8.96876, 9.6617],
    [100_000, 9.6617, 10.35474],
  ])('ARL %i, k 0.5', (arl, oneSided, twoSided) => {
    expectWithin(solveOneSidedLimit({ k: 0.5, arl }), oneSided, { absolute: 5e-5 }, 'one-sided')
    expectWithin(solveTwoSidedLimit({ k: 0.5, arl }), twoSided, { absolute: 5e-5 }, 'two-sided')
  })
})

// Standards item C8b: own recomputation by another program.
describe('limits for long run lengths, k 0.25, two sides', () => {
  it.each([
    [500, 8.58506],
    [1000, 9.93118],
    [5000, 13.11131],
    [10_000, 14.49168],
    [50_000, 17.70517],
  ])('ARL %i', (arl, h) => {
    expectWithin(solveTwoSidedLimit({ k: 0.25, arl }), h, { absolute: 5e-5 }, 'h')
  })
})

interface Input {
  readonly sided: 'one' | 'two'
  readonly k: number
  readonly arl0: number
  readonly headStartFraction: number
}

// Root of an equation in 160-bit arithmetic, checked by R package spc: reference/cusum-critical.json.
describe('decision intervals', () => {
  const entries = readReference<Input, { readonly h: number }>('cusum-critical')
  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected }) => {
    const solve = input.sided === 'one' ? solveOneSidedLimit : solveTwoSidedLimit
    const h = solve({ k: input.k, arl: input.arl0, headStartFraction: input.headStartFraction })
    expectWithin(h, expected.h, sixDigits, id)
  })

  it('are all there', () => {
    expect(entries).toHaveLength(88)
  })
})
