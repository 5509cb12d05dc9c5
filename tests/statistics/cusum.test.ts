import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { advanceCusum, advanceTabularCusum, deadBandIncrement } from '../../src/statistics/cusum.js'
import { cusumPath } from '../../src/statistics/cusumPath.js'

const runs = { seed: 20_260_302, numRuns: 200 } // the seed only pins the generated cases
const series = fc.array(fc.double({ min: -6, max: 6, noNaN: true }), { maxLength: 60 })

describe('CUSUM steps', () => {
  it('never falls below zero and never rises by more than the cap', () => {
    fc.assert(
      fc.property(series, fc.double({ min: 0.1, max: 3, noNaN: true }), (increments, cap) => {
        let sum = 0
        for (const increment of increments) {
          const next = advanceCusum(sum, increment, cap)
          expect(next).toBeGreaterThanOrEqual(0)
          expect(next).toBeLessThanOrEqual(sum + cap)
          sum = next
        }
      }),
      runs,
    )
  })

  it('needs three values to pass a limit of 2.5 caps', () => {
    const h = 5
    const sums = [1, 2, 3].map(n =>
      Array<number>(n)
        .fill(1e6)
        .reduce((s, z) => advanceCusum(s, z, h / 2.5), 0),
    )
    expect(sums.map(sum => sum > h)).toEqual([false, false, true])
  })

  it('equals the highest rise of the partial sums above their running minimum', () => {
    fc.assert(
      fc.property(series, z => {
        let sum = 0
        let partial = 0
        let lowest = 0
        for (const value of z) {
          sum = advanceTabularCusum(sum, value, 0.5)
          partial += value - 0.5
          lowest = Math.min(lowest, partial)
          expect(sum).toBeCloseTo(partial - lowest, 9)
        }
      }),
      runs,
    )
  })
})

describe('dead-band increment', () => {
  it('is the tabular CUSUM in units of 2k when u is constant', () => {
    fc.assert(
      fc.property(series, fc.double({ min: 0.05, max: 2, noNaN: true }), (residuals, u) => {
        const k = (0.6 - 0.25) / (2 * u)
        let evidence = 0
        let tabular = 0
        for (const r of residuals) {
          evidence = advanceCusum(evidence, deadBandIncrement(r, u, 0.25, 0.6), Infinity)
          tabular = advanceTabularCusum(tabular, (r - 0.25) / u, k)
          expect(Math.abs(evidence - 2 * k * tabular)).toBeLessThan(1e-9 * (1 + evidence))
        }
      }),
      runs,
    )
  })

  it('is zero half way between the two hypotheses, and worth less where u is larger', () => {
    expect(deadBandIncrement(0.5, 0.1, 0.25, 0.75)).toBe(0)
    expect(deadBandIncrement(1, 0.5, 0.25, 0.75)).toBe(1) // by hand: 0.5/0.25 · 0.5
    expect(deadBandIncrement(1, 1, 0.25, 0.75)).toBe(0.25)
  })
})

describe('a whole path', () => {
  it('has no signal, no onset and no estimate for none or one quiet value', () => {
    const silent = { signalIndex: null, lastZeroIndex: null, onsetIndex: null, meanEstimate: null }
    expect(cusumPath([], { k: 0.5, h: 4 })).toEqual({ sums: [], ...silent })
    expect(cusumPath([0.1], { k: 0.5, h: 4 })).toEqual({ sums: [0], ...silent })
  })

  it('gives the mean back exactly for a constant shift', () => {
    const path = cusumPath(Array<number>(40).fill(1.5), { k: 0.5, h: 5 })
    expect(path.meanEstimate).toBe(1.5)
    expect(path.onsetIndex).toBe(0)
  })

  it('does not estimate a mean while a head start is still in the sum', () => {
    expect(cusumPath([3, 3], { k: 0.5, h: 4, headStart: 2 }).meanEstimate).toBeNull()
  })
})
