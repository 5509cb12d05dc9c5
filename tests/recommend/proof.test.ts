import { describe, expect, it } from 'vitest'
import { DAY_MS } from '../../src/model/time.js'
import { judgeProof, type Proof } from '../../src/recommend/proof.js'
import { START_MS } from '../model/plantFixture.js'

function proofOf(residuals: readonly number[], u = 0.25): Proof {
  return {
    workMs: START_MS,
    action: 'zero',
    workId: null,
    before: null,
    lastPairs: null,
    contradictions: [],
    visit: [],
    residuals: [...residuals],
    us: residuals.map(() => u),
  }
}

const judged = (residuals: readonly number[], days = 3, u = 0.25) =>
  judgeProof(proofOf(residuals, u), START_MS + days * DAY_MS)

/** Equivalence by two one-sided tests: the 90 % interval lies inside the margin; 1.645 and 1.96 from the normal table. */
describe('proof of work', () => {
  it.each([
    ['four pairs near zero', [0.1, -0.1, 0.05, -0.05], 3, 'confirmed'],
    ['three pairs are too few', [0.1, -0.1, 0.05], 3, undefined],
    ['four pairs a tolerance off', [1.1, 0.9, 1, 1], 3, 'not_confirmed'],
    ['four pairs a tolerance off, low', [-1.1, -0.9, -1, -1], 3, 'not_confirmed'],
    ['four pairs between', [0.6, 0.65, 0.6, 0.65], 3, undefined],
    ['still between after a fortnight', [0.6, 0.65, 0.6, 0.65], 14.1, 'undecided'],
    ['nothing came within a fortnight', [], 14.1, 'undecided'],
    ['nothing came yet', [], 14, undefined],
  ])('%s: %s', (_, residuals, days, verdict) => {
    expect(judged(residuals, days).verdict).toBe(verdict)
  })

  it('the margin: mean plus 1.645 u inside 0.8, u from the pairs and the slow mismatch of 0.08', () => {
    const u = Math.sqrt((0.25 * 0.25) / 4 + 0.08 * 0.08)
    const edge = 0.8 - 1.645 * u
    expect(judged(Array<number>(4).fill(edge - 1e-6)).verdict).toBe('confirmed')
    expect(judged(Array<number>(4).fill(edge + 1e-6)).verdict).toBeUndefined()
    expect(judged(Array<number>(4).fill(edge)).u).toBeCloseTo(u, 12)
    const beyond = 0.5 + 1.96 * u
    expect(judged(Array<number>(4).fill(beyond + 1e-6)).verdict).toBe('not_confirmed')
    expect(judged(Array<number>(4).fill(beyond - 1e-6)).verdict).toBeUndefined()
  })

  it('precise pairs weigh more', () => {
    const proof = proofOf([0, 0, 0, 1])
    proof.us = [0.1, 0.1, 0.1, 0.4]
    expect(judgeProof(proof, START_MS).mean).toBeCloseTo(6.25 / 306.25, 9)
  })

  it('many pairs do not make the slow mismatch smaller', () => {
    expect(judged(Array<number>(5_000).fill(0)).u).toBeGreaterThanOrEqual(0.08)
  })

  it('vague pairs confirm nothing', () => {
    expect(judged([0, 0, 0, 0], 3, 1).verdict).toBeUndefined()
  })
})
