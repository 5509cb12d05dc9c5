import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalUpperTail } from '../../src/statistics/distributions.js'
import { advanceEwma, ewmaLastingSd, ewmaSd } from '../../src/statistics/ewma.js'
import { ewmaArl, type EwmaLimits, solveEwmaLimit } from '../../src/statistics/ewmaRunLength.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_307, numRuns: 40 } // the seed only pins the generated cases
const LIMITS: readonly EwmaLimits[] = ['fixed', 'varying']
const chart = fc.record({
  lambda: fc.double({ min: 0.08, max: 1, noNaN: true }),
  c: fc.double({ min: 0.2, max: 6, noNaN: true }),
  shift: fc.double({ min: -4, max: 4, noNaN: true }),
  limits: fc.constantFrom(...LIMITS),
})
const ALLOWANCE = 1 + 1e-8

describe('run lengths of the EWMA', () => {
  it('are at least one, never NaN, and the same for both directions of the shift', () => {
    fc.assert(
      fc.property(chart, c => {
        const arl = ewmaArl(c)
        expect(arl).toBeGreaterThanOrEqual(1)
        expect(ewmaArl({ ...c, shift: -c.shift }) / arl).toBeCloseTo(1, 8)
      }),
      runs,
    )
  })

  it('grow with the limit and fall with the size of the shift', () => {
    fc.assert(
      fc.property(chart, c => {
        const arl = ewmaArl(c)
        const away = c.shift < 0 ? -0.1 : 0.1
        expect(ewmaArl({ ...c, c: c.c + 0.1 }) * ALLOWANCE).toBeGreaterThanOrEqual(arl)
        expect(ewmaArl({ ...c, shift: c.shift + away })).toBeLessThanOrEqual(arl * ALLOWANCE)
      }),
      runs,
    )
  })

  it('are not longer with varying limits, which begin narrower', () => {
    fc.assert(
      fc.property(chart, c => {
        expect(ewmaArl({ ...c, limits: 'varying' })).toBeLessThanOrEqual(ewmaArl({ ...c, limits: 'fixed' }) * ALLOWANCE)
      }),
      runs,
    )
  })

  it.each(LIMITS)('at lambda 1 are those of single values, %s limits', limits => {
    for (const [c, shift] of [
      [3, 0],
      [2, 1.3],
      [4.5, -0.4],
    ] as const) {
      const signal = normalUpperTail(c - shift) + normalUpperTail(c + shift)
      expect(ewmaArl({ lambda: 1, c, shift, limits }) * signal).toBeCloseTo(1, 9)
    }
  })

  it('are endless, not wrong, where no signal is to be expected, and one where it is certain', () => {
    expect(ewmaArl({ lambda: 0.3, c: 20, shift: 0, limits: 'varying' })).toBe(Infinity)
    expect(ewmaArl({ lambda: 0.3, c: 3, shift: 300, limits: 'varying' })).toBe(1)
    expect(ewmaArl({ lambda: 0.3, c: 3, shift: 300, limits: 'fixed' })).toBe(1)
  })

  it('refuses charts that are none, naming the value', () => {
    const good = { lambda: 0.2, c: 3, shift: 0, limits: 'fixed' } as const
    expect(() => ewmaArl({ ...good, lambda: 0.005 })).toThrow(/lambda must be from 0.01 to 1, got 0.005/)
    expect(() => ewmaArl({ ...good, lambda: NaN })).toThrow(/lambda/)
    expect(() => ewmaArl({ ...good, c: 0 })).toThrow(/c must be a finite number above 0, got 0/)
    expect(() => ewmaArl({ ...good, shift: Infinity })).toThrow(/shift must be a finite number, got Infinity/)
    expect(() => solveEwmaLimit({ lambda: 0.2, arl: 1, limits: 'fixed' })).toThrow(
      /arl must be from 1.01 to 1e12, got 1/,
    )
  })
})

describe('limit of the EWMA', () => {
  it('gives the run length asked for, to the six digits of the limit', () => {
    const request = fc.record({
      lambda: fc.double({ min: 0.1, max: 1, noNaN: true }),
      arl: fc.double({ min: 1.5, max: 1e9, noNaN: true }),
      limits: fc.constantFrom(...LIMITS),
    })
    fc.assert(
      fc.property(request, ({ lambda, arl, limits }) => {
        const c = solveEwmaLimit({ lambda, arl, limits })
        expect(ewmaArl({ lambda, c, shift: 0, limits }) / arl).toBeCloseTo(1, 3)
      }),
      { ...runs, numRuns: 20 },
    )
  })
})

// The chart itself, run on seeded values; the seed pins the sample, the bound is 4 standard errors.
describe('run lengths against a simulated chart', () => {
  it.each([
    { lambda: 0.2, c: 2.5, shift: 0, limits: 'fixed' },
    { lambda: 0.1, c: 2, shift: 0.3, limits: 'varying' },
    { lambda: 0.3, c: 3, shift: -1, limits: 'varying' },
  ] as const)('lambda $lambda, c $c, shift $shift, $limits limits', chart => {
    const { lambda, c, shift, limits } = chart
    const lasting = ewmaLastingSd(lambda, 1)
    const normal = normalSource(13)
    const repeats = 4000
    let sum = 0
    let sumOfSquares = 0
    for (let run = 0; run < repeats; run++) {
      let n = 0
      let ewma = { z: 0, fading: 1 }
      do {
        ewma = advanceEwma(ewma, shift + normal(), lambda)
        n += 1
      } while (Math.abs(ewma.z) <= c * (limits === 'fixed' ? lasting : ewmaSd(ewma, lambda, 1)))
      sum += n
      sumOfSquares += n * n
    }
    const mean = sum / repeats
    const standardError = Math.sqrt((sumOfSquares / repeats - mean * mean) / repeats)
    expect(Math.abs(ewmaArl(chart) - mean)).toBeLessThan(4 * standardError)
  })
})
