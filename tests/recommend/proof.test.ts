import { describe, expect, it } from 'vitest'
import { DAY_MS } from '../../src/model/time.js'
import { countsForProof, judgeProof, pairsToSettle, type Proof } from '../../src/recommend/proof.js'
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
    checks: [],
    isReminded: false,
  }
}

const judged = (residuals: readonly number[], days = 3, u = 0.25) =>
  judgeProof(proofOf(residuals, u), START_MS + days * DAY_MS)

/** Equivalence by two one-sided tests: the 90 % interval lies inside the margin; 1.644854 and 1.959964, normal table. */
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
    const edge = 0.8 - 1.644854 * u
    expect(judged(Array<number>(4).fill(edge - 1e-6)).verdict).toBe('confirmed')
    expect(judged(Array<number>(4).fill(edge + 1e-6)).verdict).toBeUndefined()
    expect(judged(Array<number>(4).fill(edge)).u).toBeCloseTo(u, 12)
    const beyond = 0.5 + 1.959964 * u
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

describe('a verification as proof', () => {
  const checked = (residuals: readonly number[], check: number) => {
    const proof = proofOf(residuals)
    proof.checks.push({ residual: check, u: 0.15 })
    return proof
  }

  it('stands for two pairs: two grabs more, and the work is proven', () => {
    expect(judgeProof(checked([0.1], 0.1), START_MS).verdict).toBeUndefined()
    expect(judgeProof(checked([0.1, 0], 0.1), START_MS).verdict).toBe('confirmed')
    expect(judgeProof(checked([1.2, 1], 1.1), START_MS).verdict).toBe('not_confirmed')
  })

  it('weighs by its uncertainty', () => {
    expect(judgeProof(checked([1], 0), START_MS).mean).toBeCloseTo(16 / (16 + 1 / 0.0225), 9)
  })

  it.each([
    ['zero', 'zero_water', true],
    ['zero', 'secondary_standard', false],
    ['span', 'secondary_standard', true],
    ['span', 'zero_water', false],
    ['cleaned', 'secondary_standard', true],
    ['line_flushed', 'zero_water', false],
  ] as const)('of %s by %s: %s', (action, type, counts) => {
    expect(countsForProof(action, type)).toBe(counts)
  })
})

describe('what would settle it', () => {
  it('is four pairs where none has come, as many as lack where some have', () => {
    expect(pairsToSettle(proofOf([]))).toBe(4)
    expect(pairsToSettle(proofOf([0.1, -0.1]))).toBe(2)
  })

  it('is as many more as the interval needs, and they do settle it', () => {
    const open = proofOf([0.55, 0.6, 0.55, 0.6])
    expect(judgeProof(open, START_MS).verdict).toBeUndefined()
    const more = pairsToSettle(open)!
    const like = (n: number) => proofOf([...open.residuals, ...Array<number>(n).fill(0.575)])
    expect(judgeProof(like(more), START_MS).verdict).toBe('confirmed')
    expect(judgeProof(like(more - 1), START_MS).verdict).toBeUndefined()
  })

  it('is nothing where the mean lies where neither can be said', () => {
    expect(pairsToSettle(proofOf([0.66, 0.66, 0.66, 0.66]))).toBeUndefined()
  })
})
