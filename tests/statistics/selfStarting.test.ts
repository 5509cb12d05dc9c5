import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { normalQuantile, tCdf } from '../../src/statistics/distributions.js'
import {
  advanceSelfStarting,
  newSelfStarting,
  selfStartingScore,
  type SelfStarting,
} from '../../src/statistics/selfStarting.js'
import { normalSource } from './random.js'

const runs = { seed: 20_260_314, numRuns: 150 } // the seed only pins the generated cases
// In steps of 1/4, so that ties are frequent.
const series = fc.array(
  fc.integer({ min: -400, max: 400 }).map(step => step / 4),
  { maxLength: 30 },
)

function scoresOf(x: readonly number[]): readonly (number | null)[] {
  let state = newSelfStarting()
  return x.map(value => {
    const score = selfStartingScore(state, value)
    state = advanceSelfStarting(state, value)
    return score
  })
}

// From the definition: mean and sd of all earlier values anew, U by the probability itself.
function scoreByDefinition(earlier: readonly number[], value: number): number | null {
  const m = earlier.length
  if (m < 2 || new Set(earlier).size === 1) return null
  const mean = earlier.reduce((a, b) => a + b, 0) / m
  const sd = Math.sqrt(earlier.reduce((a, x) => a + (x - mean) * (x - mean), 0) / (m - 1))
  return normalQuantile(tCdf((Math.sqrt(m / (m + 1)) * (value - mean)) / sd, m - 1))
}

function expectClose(got: number | null | undefined, expected: number | null, within: number): void {
  if (expected === null) expect(got).toBeNull()
  else expect(Math.abs((got ?? NaN) - expected)).toBeLessThan(within)
}

describe('self-starting scores', () => {
  it('equal the definition for every value', () => {
    fc.assert(
      fc.property(series, x => {
        scoresOf(x).forEach((score, i) => {
          const expected = scoreByDefinition(x.slice(0, i), x[i] ?? NaN)
          // Past 6 the definition's probability is too near 1 to tell one score from another.
          if (expected === null || expected < 6) expectClose(score, expected, 1e-6)
          else expect(score).toBeGreaterThan(5.9)
        })
      }),
      runs,
    )
  })

  it('do not mind shift and scale, and change sign with the values', () => {
    fc.assert(
      fc.property(series, fc.integer({ min: -64, max: 64 }), fc.constantFrom(0.25, 8), (x, a, b) => {
        const plain = scoresOf(x)
        scoresOf(x.map(value => a + b * value)).forEach((score, i) => {
          expectClose(score, plain[i] ?? null, 1e-7)
        })
        scoresOf(x.map(value => -value)).forEach((score, i) => {
          expectClose(score, plain[i] == null ? null : -plain[i], 1e-12)
        })
      }),
      runs,
    )
  })

  it('are finite or null for whatever can be squared', () => {
    const wide = fc.array(fc.double({ min: -1e150, max: 1e150, noNaN: true }), { maxLength: 12 })
    fc.assert(
      fc.property(wide, x => {
        for (const score of scoresOf(x)) expect(score === null || Math.abs(score) < 37.6).toBe(true)
      }),
      runs,
    )
  })

  it('are null for the first two values and while there is no spread', () => {
    expect(scoresOf([])).toEqual([])
    expect(scoresOf([5])).toEqual([null])
    expect(scoresOf([5, 6])).toEqual([null, null])
    expect(scoresOf(Array<number>(30).fill(0.1))).toEqual(Array<null>(30).fill(null))
    expect(scoresOf([0.1, 0.1, 0.1, 0.2, 0.15]).map(score => score === null)).toEqual([true, true, true, true, false])
  })

  it('hold a value that is out of all proportion, on both sides', () => {
    const calm = Array.from({ length: 400 }, (_, i) => (i % 2 === 0 ? 1 : -1))
    expect(scoresOf([...calm, 1e9]).at(-1)).toBeCloseTo(37.5, 0)
    expect(scoresOf([...calm, -1e9]).at(-1)).toBeCloseTo(-37.5, 0)
  })

  it('look standard normal while nothing changes', () => {
    const normal = normalSource(20_260_315)
    const scores = scoresOf(Array.from({ length: 4002 }, () => 0.06 + 0.004 * normal())).slice(2) as number[]
    const mean = scores.reduce((a, b) => a + b, 0) / scores.length
    const variance = scores.reduce((a, b) => a + (b - mean) * (b - mean), 0) / scores.length
    const lagOne = scores.slice(1).reduce((a, b, i) => a + b * (scores[i] ?? NaN), 0) / scores.length
    // Four standard errors of 4000 independent standard normal values.
    expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(4000))
    expect(Math.abs(variance - 1)).toBeLessThan(4 * Math.sqrt(2 / 4000))
    expect(Math.abs(lagOne)).toBeLessThan(4 / Math.sqrt(4000))
  })

  it('learn a slow ramp away, and do not where learning has stopped', () => {
    const normal = normalSource(20_260_316)
    const x = Array.from({ length: 400 }, (_, i) => normal() + (i < 30 ? 0 : 0.02 * (i - 29)))
    const baseline = x.slice(0, 30).reduce(advanceSelfStarting, newSelfStarting())
    const bounded = x.slice(-50).map(value => selfStartingScore(baseline, value) ?? NaN)
    const learning = scoresOf(x).slice(-50) as number[]
    const meanOf = (scores: readonly number[]) => scores.reduce((a, b) => a + b, 0) / scores.length
    expect(meanOf(bounded)).toBeGreaterThan(3 * meanOf(learning))
  })

  it('go on from a stored state as if nothing had happened', () => {
    const stored = JSON.parse(JSON.stringify([1, 2, 4].reduce(advanceSelfStarting, newSelfStarting()))) as SelfStarting
    expect(selfStartingScore(stored, 3)).toBe(scoresOf([1, 2, 4, 3]).at(-1))
  })

  it('refuse what would spoil the moments for good, naming it', () => {
    expect(() => advanceSelfStarting(newSelfStarting(), NaN)).toThrow(/value must be a finite number, got NaN/)
    expect(() => selfStartingScore(newSelfStarting(), -Infinity)).toThrow(
      /value must be a finite number, got -Infinity/,
    )
  })
})
