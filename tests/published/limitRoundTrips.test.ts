import { describe, it } from 'vitest'
import { solveOneSidedLimit, solveTwoSidedLimit } from '../../src/statistics/solveLimit.js'
import { expectWithin, readReference } from './reference.js'

// Limits come back with six significant digits.
const sixDigits = { relative: 5.01e-6, absolute: 1e-5 }

interface ChartInput {
  readonly sided: 'one' | 'two'
  readonly k: number
  readonly h: number
  readonly headStart: number
  readonly mu: number
  readonly start?: string
}
interface CappedInput {
  readonly k: number
  readonly h: number
  readonly cap: number
  readonly shift: number
}

// The run lengths of the reference, asked for, give the limits they were computed at: reference/cusum-arl.json (160-bit
// interval arithmetic) and reference/cusum-capped.json (Nyström solution on split panels).
describe('limits from reference run lengths', () => {
  const charts = readReference<ChartInput, { readonly arl: number }>('cusum-arl').filter(
    ({ id, input }) => input.mu === 0 && input.start === undefined && !id.includes('montecarlo'),
  )
  it.each(charts.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected }) => {
    const solve = input.sided === 'one' ? solveOneSidedLimit : solveTwoSidedLimit
    const h = solve({ k: input.k, arl: expected.arl, headStartFraction: input.headStart / input.h })
    expectWithin(h, input.h, sixDigits, id)
  })

  const capped = readReference<CappedInput, { readonly arl: number }>('cusum-capped').filter(
    ({ input, expected }) => input.k - input.shift >= 0.01 && expected.arl <= 1e12,
  )
  it.each(capped.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected }) => {
    const { k, shift, h, cap } = input
    const got = solveOneSidedLimit({ k, shift, arl: expected.arl, capFraction: cap / h })
    expectWithin(got, h, sixDigits, id)
  })
})
