import { describe, expect, it } from 'vitest'
import { type EwmaLimits, solveEwmaLimit } from '../../src/statistics/ewmaRunLength.js'
import { expectWithin, readReference } from './reference.js'

interface EwmaInput {
  readonly lambda: number
  readonly arl0: number
  readonly limits: EwmaLimits
}

// Root of the equation of run lengths, checked by R package spc: reference/ewma-critical.json.
describe('limits of the EWMA', () => {
  const entries = readReference<EwmaInput, { readonly c: number }>('ewma-critical')
  it.each(entries.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected, tolerance }) => {
    const { lambda, arl0, limits } = input
    expectWithin(solveEwmaLimit({ lambda, arl: arl0, limits }), expected.c, tolerance, id)
  })

  it('are all there', () => {
    expect(entries).toHaveLength(60)
  })
})
