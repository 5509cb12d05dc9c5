import { describe, expect, it } from 'vitest'
import { twoSidedWhitenedArl } from '../../src/statistics/whitenedRunLength.js'
import { normalSource } from '../statistics/random.js'
import { cusumRun, simulate } from '../statistics/simulatedRuns.js'
import { expectWithin, readReference } from './reference.js'

interface Input {
  readonly phi: number
  readonly k: number
  readonly h: number
  readonly mu: number
  readonly whitened?: boolean
}
interface Expected {
  readonly arl: number
  readonly standardError: number
}

// Simulations of 400 000 or 100 000 runs (numpy 2.4.6): reference/ar1.json. Two-sided CUSUM on a first-order
// autoregression of standard deviation 1 whose mean is mu from the first value on.
const entries = readReference<Input, Expected>('ar1').filter(({ input }) => input.whitened !== undefined)

describe('run lengths on whitened values', () => {
  const whitened = entries.filter(({ input }) => input.whitened === true || input.phi === 0)
  it.each(whitened.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected }) => {
    const { phi, k, h, mu } = input
    expectWithin(
      twoSidedWhitenedArl({ phi, k, h, shift: mu }),
      expected.arl,
      { absolute: 4 * expected.standardError },
      id,
    )
  })

  it('are all there, and with the charts on the values themselves all of the reference', () => {
    expect(whitened).toHaveLength(16)
    expect(entries).toHaveLength(34)
  })
})

// No integral equation in one variable gives these: the chart itself is run on seeded values. What autocorrelation costs a
// chart that does not whiten: at phi 0.5 one ninth of the run length of independent values is left.
describe('run lengths on autocorrelated values themselves', () => {
  const plain = entries.filter(({ input }) => input.whitened === false)
  it.each(plain.map(entry => [entry.id, entry] as const))('%s', (id, { input, expected }) => {
    const { phi, k, h, mu } = input
    const normal = normalSource(37)
    const spread = Math.sqrt(1 - phi * phi)
    const { mean, standardError } = simulate(1000, () => {
      let value = normal()
      return cusumRun({ k, h }, 2, () => (value = phi * value + spread * normal()) + mu)
    })
    const allowed = 4 * Math.sqrt(standardError * standardError + expected.standardError * expected.standardError)
    expectWithin(mean, expected.arl, { absolute: allowed }, id)
  })
})
