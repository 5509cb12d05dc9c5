import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { cappedArl, twoSidedArl } from '../../src/statistics/cusumRunLength.js'
import { twoSidedWhitenedArl, whitenedArl } from '../../src/statistics/whitenedRunLength.js'
import { normalSource } from './random.js'
import { cusumRun, simulate } from './simulatedRuns.js'

const runs = { seed: 20_260_311, numRuns: 40 } // the seed only pins the generated cases
const ALLOWANCE = 1 + 1e-8
const chart = fc.record({
  k: fc.double({ min: 0.1, max: 2, noNaN: true }),
  h: fc.double({ min: 0.3, max: 6, noNaN: true }),
  shift: fc.double({ min: -3, max: 3, noNaN: true }),
  phi: fc.double({ min: -0.9, max: 0.9, noNaN: true }),
})

describe('run lengths on whitened values', () => {
  it('are those of independent values without correlation or without a shift', () => {
    fc.assert(
      fc.property(chart, fc.constantFrom(0.4, Infinity), (c, capFraction) => {
        const cap = c.h * capFraction
        for (const plain of [
          { ...c, cap, phi: 0 },
          { ...c, cap, shift: 0 },
        ]) {
          for (const [whitened, arl] of [
            [whitenedArl(plain), cappedArl(plain)],
            [twoSidedWhitenedArl(plain), twoSidedArl(plain)],
          ] as const)
            expect(whitened === arl || Math.abs(whitened / arl - 1) < 1e-7).toBe(true)
        }
      }),
      runs,
    )
  })

  it('are at least one and, with positive correlation, shorter than those of the lasting shift alone', () => {
    fc.assert(
      fc.property(chart, c => {
        const positive = { ...c, phi: Math.abs(c.phi), shift: Math.abs(c.shift) }
        const lasting = positive.shift * Math.sqrt((1 - positive.phi) / (1 + positive.phi))
        const arl = whitenedArl(positive)
        expect(arl).toBeGreaterThanOrEqual(1)
        expect(arl).toBeLessThanOrEqual(cappedArl({ ...positive, cap: Infinity, shift: lasting }) * ALLOWANCE)
        expect(twoSidedWhitenedArl(c)).toBeGreaterThanOrEqual(1)
      }),
      runs,
    )
  })

  it('are one where the first value settles it, however long the rest would take', () => {
    expect(whitenedArl({ k: 0.5, h: 4, shift: 40, phi: 0.99 })).toBeCloseTo(1, 12)
    expect(twoSidedWhitenedArl({ k: 6, h: 15, shift: -40, phi: 0.9999 })).toBe(1)
  })

  it('refuses what is out of range, naming the value', () => {
    const good = { k: 0.5, h: 4, shift: 0, phi: 0.3 }
    expect(() => whitenedArl({ ...good, phi: 1 })).toThrow(/phi must be above -1 and below 1, got 1/)
    expect(() => whitenedArl({ ...good, shift: NaN })).toThrow(/shift must be a finite number, got NaN/)
    expect(() => twoSidedWhitenedArl({ ...good, headStart: 3 })).toThrow(/headStart/)
  })
})

// The chart itself, run on a seeded series; the seed pins the sample, the bound is 4 standard errors.
describe('run lengths on whitened values against a simulated chart', () => {
  it.each([
    { sides: 1, k: 0.5, h: 3, cap: 1.2, headStart: 0.45, phi: 0.6, shift: 1 },
    { sides: 2, k: 0.3, h: 3, cap: 1.2, headStart: 1, phi: 0.8, shift: -1.5 },
    { sides: 2, k: 0.5, h: 3, cap: Infinity, headStart: 0, phi: -0.4, shift: 0.5 },
  ] as const)('$sides sides, phi $phi, shift $shift, cap $cap, head start $headStart', ({ sides, ...c }) => {
    const normal = normalSource(31)
    const spread = Math.sqrt(1 - c.phi * c.phi)
    const { mean, standardError } = simulate(10_000, () => {
      let inControl = normal()
      let before = inControl
      return cusumRun(c, sides, () => {
        inControl = c.phi * inControl + spread * normal()
        const value = inControl + c.shift
        const whitened = (value - c.phi * before) / spread
        before = value
        return whitened
      })
    })
    const arl = (sides === 1 ? whitenedArl : twoSidedWhitenedArl)(c)
    expect(Math.abs(arl - mean)).toBeLessThan(4 * standardError)
  })
})
