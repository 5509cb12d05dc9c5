import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { precisionOfThree, precisionOfTwo } from '../../src/statistics/grubbsPrecision.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_321, numRuns: 100 } // the seed only pins the generated cases

const whole = fc.integer({ min: -200, max: 200 })
const triples = fc.array(fc.tuple(whole, whole, whole), { minLength: 2, maxLength: 20 })

function columns(rows: readonly (readonly [number, number, number])[]): [number[], number[], number[]] {
  return [rows.map(row => row[0]), rows.map(row => row[1]), rows.map(row => row[2])]
}

describe('precision of instruments', () => {
  it('does not see an offset of an instrument, and goes with the square of the unit', () => {
    fc.assert(
      fc.property(triples, whole, fc.integer({ min: 1, max: 64 }), (rows, a, b) => {
        const [x, y, z] = columns(rows)
        const plain = precisionOfThree(x, y, z)
        const moved = precisionOfThree(
          x.map(value => a + b * value),
          y.map(value => b * value),
          z.map(value => b * value - a),
        )
        moved.instruments.forEach((one, i) => {
          expect(one.errorVariance).toBeCloseTo(b * b * plain.instruments[i]!.errorVariance, 5)
          expect(one.errorVarianceSd).toBeCloseTo(b * b * plain.instruments[i]!.errorVarianceSd, 5)
        })
      }),
      runs,
    )
  })

  it('does not see what was measured, nor the order of the readings, where three instruments saw it', () => {
    fc.assert(
      fc.property(triples, rows => {
        const [x, y, z] = columns(rows)
        const same = columns(rows.map(([p, q, r], i) => [p + i * i, q + i * i, r + i * i]))
        expect(precisionOfThree(...same).instruments).toEqual(precisionOfThree(x, y, z).instruments)
        const turned = precisionOfThree(x.reverse(), y.reverse(), z.reverse()).instruments
        precisionOfThree(...columns(rows)).instruments.forEach((one, i) => {
          expect(turned[i]!.errorVariance).toBeCloseTo(one.errorVariance, 7)
        })
      }),
      runs,
    )
  })

  it('has variances that add up to those of the differences', () => {
    fc.assert(
      fc.property(triples, rows => {
        const [x, y, z] = columns(rows)
        const [one, two] = precisionOfThree(x, y, z).instruments
        const [first, second] = precisionOfTwo(x, y).instruments
        expect(one!.errorVariance + two!.errorVariance).toBeCloseTo(first!.errorVariance + second!.errorVariance, 6)
      }),
      runs,
    )
  })

  it('is finite for any finite readings and marks the negative ones', () => {
    fc.assert(
      fc.property(triples, rows => {
        for (const { instruments, productVariance } of [
          precisionOfThree(...columns(rows)),
          precisionOfTwo(columns(rows)[0], columns(rows)[1]),
        ]) {
          expect(Number.isFinite(productVariance)).toBe(true)
          for (const one of instruments) {
            expect(Number.isFinite(one.errorVariance)).toBe(true)
            expect(one.negative).toBe(one.errorVariance < 0)
            expect(one.errorVarianceSd).toBeGreaterThanOrEqual(0)
          }
        }
      }),
      runs,
    )
  })

  it('is 0 for instruments that never differ', () => {
    const still = { errorVariance: 0, errorVarianceSd: 0, negative: false }
    expect(precisionOfThree([5, 5, 5], [4, 4, 4], [7, 7, 7])).toEqual({
      instruments: [still, still, still],
      productVariance: 0,
    })
    expect(precisionOfTwo([1, 2, 3], [1, 2, 3])).toEqual({ instruments: [still, still], productVariance: 1 })
  })

  it('finds the errors put in, with the spread it says', () => {
    const normal = normalSource(23)
    const sigmas = [0.5, 1, 2] as const
    const rounds = 400
    const n = 50
    const sums = [0, 1, 2].map(() => ({ value: 0, square: 0, sd: 0 }))
    for (let round = 0; round < rounds; round++) {
      const truth = Array.from({ length: n }, () => 20 * normal())
      const [x, y, z] = sigmas.map(sigma => truth.map(value => value + sigma * normal()))
      precisionOfThree(x!, y!, z!).instruments.forEach((one, i) => {
        sums[i]!.value += one.errorVariance / rounds
        sums[i]!.square += (one.errorVariance * one.errorVariance) / rounds
        sums[i]!.sd += one.errorVarianceSd / rounds
      })
    }
    sums.forEach(({ value, square, sd }, i) => {
      const spread = Math.sqrt(square - value * value)
      // Four standard errors of a mean, and of a standard deviation with some room for the skew of variances.
      expect(Math.abs(value - sigmas[i]! ** 2), `sigma ${sigmas[i]!}`).toBeLessThan((4 * spread) / Math.sqrt(rounds))
      expect(Math.abs(sd / spread - 1), `sigma ${sigmas[i]!}`).toBeLessThan(0.2)
    })
  })

  it('refuses what it cannot take, naming it', () => {
    expect(() => precisionOfTwo([], [])).toThrow(/first must not be empty/)
    expect(() => precisionOfTwo([1], [1])).toThrow(/first must have at least two values, got 1/)
    expect(() => precisionOfThree([1, 2], [1, 2], [1])).toThrow(/third must have as many values as first \(2\), got 1/)
    expect(() => precisionOfTwo([1, 2], [1, NaN])).toThrow(/second\[1\] must be a finite number, got NaN/)
  })
})
