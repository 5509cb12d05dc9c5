import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { hodgesLehmannLocation, hodgesLehmannShift, type HodgesLehmann } from '../../src/statistics/hodgesLehmann.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_311, numRuns: 100 } // the seed only pins the generated cases

const sample = fc.array(fc.integer({ min: -5000, max: 5000 }), { minLength: 1, maxLength: 15 })

// Whole numbers times a power of two: every mean of two is exact.
function mapped({ estimate, interval }: HodgesLehmann, by: (value: number) => number): HodgesLehmann {
  return {
    estimate: by(estimate),
    interval: interval === null ? null : { lower: by(interval.lower), upper: by(interval.upper) },
  }
}

describe('Hodges–Lehmann estimates', () => {
  it('move and stretch with the values, whatever their order', () => {
    fc.assert(
      fc.property(sample, fc.integer({ min: -100, max: 100 }), fc.integer({ min: 1, max: 64 }), (values, a, b) => {
        const moved = values.map(x => a + b * x).reverse()
        expect(hodgesLehmannLocation(moved)).toEqual(mapped(hodgesLehmannLocation(values), x => a + b * x))
      }),
      runs,
    )
  })

  it('turn their sign where the samples change places, and follow a shift of one', () => {
    fc.assert(
      fc.property(sample, sample, fc.integer({ min: -100, max: 100 }), (x, y, a) => {
        const shift = hodgesLehmannShift(x, y)
        const turned = hodgesLehmannShift(y, x)
        expect(turned.estimate).toBeCloseTo(-shift.estimate, 12)
        expect(turned.interval === null).toBe(shift.interval === null)
        if (shift.interval !== null) expect(turned.interval?.lower).toBeCloseTo(-shift.interval.upper, 12)
        expect(
          hodgesLehmannShift(
            [...x].reverse().map(value => value + a),
            y,
          ),
        ).toEqual(mapped(shift, v => v + a))
      }),
      runs,
    )
  })

  it('have an interval that holds the estimate and grows with the coverage', () => {
    fc.assert(
      fc.property(sample, values => {
        const wide = hodgesLehmannLocation(values, 0.9)
        const narrow = hodgesLehmannLocation(values, 0.5)
        if (wide.interval === null || narrow.interval === null) return
        expect(wide.interval.lower).toBeLessThanOrEqual(narrow.interval.lower)
        expect(narrow.interval.lower).toBeLessThanOrEqual(narrow.estimate)
        expect(narrow.estimate).toBeLessThanOrEqual(narrow.interval.upper)
        expect(narrow.interval.upper).toBeLessThanOrEqual(wide.interval.upper)
      }),
      runs,
    )
  })

  // 2⁻⁵ on each side: five values bear 15/16 and no more, two and two bear 2/3.
  it('give no interval where so few values bear none', () => {
    expect(hodgesLehmannLocation([7])).toEqual({ estimate: 7, interval: null })
    expect(hodgesLehmannLocation([1, 4]).estimate).toBe(2.5)
    expect(hodgesLehmannLocation([1, 2, 3, 4, 5]).interval).toBeNull()
    expect(hodgesLehmannLocation([1, 2, 3, 4, 5], 15 / 16).interval).toEqual({ lower: 1, upper: 5 })
    expect(hodgesLehmannShift([1, 2], [5, 7])).toEqual({ estimate: -4.5, interval: null })
    expect(hodgesLehmannShift([1, 2], [5, 7], 0.6).interval).toEqual({ lower: -6, upper: -3 })
  })

  it('are the value itself in a constant series', () => {
    const same = Array.from({ length: 9 }, () => 0.1)
    expect(hodgesLehmannLocation(same)).toEqual({ estimate: 0.1, interval: { lower: 0.1, upper: 0.1 } })
    expect(hodgesLehmannShift(same, same)).toEqual({ estimate: 0, interval: { lower: 0, upper: 0 } })
  })

  it('bear a quarter of wild values', () => {
    expect(hodgesLehmannLocation([1, 1, 1, 1, 1, 1, 1, 900, 900]).estimate).toBe(1)
  })

  it('hold the true centre as often as asked', () => {
    const normal = normalSource(5)
    const rounds = 400
    let held = 0
    for (let i = 0; i < rounds; i++) {
      const { interval } = hodgesLehmannLocation(
        Array.from({ length: 12 }, () => 3 + normal()),
        0.8,
      )
      if (interval !== null && interval.lower <= 3 && interval.upper >= 3) held++
    }
    // Of twelve values the nearest coverage above is 0.805; four standard errors of 400 trials are 0.08.
    expect(Math.abs(held / rounds - 0.805)).toBeLessThan(0.08)
  })

  it('refuse what they cannot take, naming it', () => {
    expect(() => hodgesLehmannLocation([])).toThrow(/values must not be empty/)
    expect(() => hodgesLehmannShift([1], [])).toThrow(/y must not be empty/)
    expect(() => hodgesLehmannShift([NaN], [1])).toThrow(/x\[0\] must be a finite number, got NaN/)
    expect(() => hodgesLehmannLocation([1, 2], 1)).toThrow(/coverage must be above 0 and below 1, got 1/)
  })
})
