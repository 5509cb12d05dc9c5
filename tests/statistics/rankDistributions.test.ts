import { describe, expect, it } from 'vitest'
import {
  concordanceDistribution,
  lowerTail,
  rankSumDistribution,
  signedRankDistribution,
  tailRank,
} from '../../src/statistics/rankDistributions.js'

/** Every order of 0 … n − 1. */
function permutations(n: number): number[][] {
  if (n === 0) return [[]]
  return permutations(n - 1).flatMap(shorter =>
    Array.from({ length: n }, (_, at) => [...shorter.slice(0, at), n - 1, ...shorter.slice(at)]),
  )
}

function shareOf(outcomes: readonly number[], size: number): number[] {
  return Array.from({ length: size }, (_, k) => outcomes.filter(value => value === k).length / outcomes.length)
}

describe('distributions of rank statistics', () => {
  it('are what counting every case gives', () => {
    const signs = Array.from({ length: 64 }, (_, bits) =>
      [1, 2, 3, 4, 5, 6].reduce((sum, rank) => sum + ((bits >> (rank - 1)) & 1) * rank, 0),
    )
    expect([...signedRankDistribution(6)]).toEqual(shareOf(signs, 22))
    const orders = permutations(6)
    const pairs = orders.map(order => [0, 1, 2, 3].flatMap(i => [4, 5].filter(j => order[i]! > order[j]!)).length)
    shareOf(pairs, 9).forEach((share, u) => {
      expect(rankSumDistribution(4, 2)[u]).toBeCloseTo(share, 15)
    })
    const rising = orders.map(order => order.flatMap((v, j) => order.slice(0, j).filter(before => before < v)).length)
    shareOf(rising, 16).forEach((share, k) => {
      expect(concordanceDistribution(6)[k]).toBeCloseTo(share, 15)
    })
  })

  it('sum to one and mirror', () => {
    for (const shares of [signedRankDistribution(30), rankSumDistribution(13, 21), concordanceDistribution(40)]) {
      expect(lowerTail(shares, shares.length)).toBeCloseTo(1, 12)
      shares.forEach((share, k) => {
        expect(share / shares[shares.length - 1 - k]!).toBeCloseTo(1, 10)
      })
    }
  })

  // Critical values as printed in textbooks, from memory: signed ranks n 10 at two-sided 0.05: 8; rank sum 10 and 10: 23;
  // Kendall's S of 7 values: P(S ≥ 13) = 0.035, that is 4 discordant pairs or fewer.
  it('have the printed critical values', () => {
    expect(tailRank(signedRankDistribution(10), 0.025)).toBe(9)
    expect(tailRank(rankSumDistribution(10, 10), 0.025)).toBe(24)
    expect(lowerTail(concordanceDistribution(7), 4)).toBeCloseTo(0.035, 3)
  })

  it('refuse what is no number of values', () => {
    expect(() => signedRankDistribution(0)).toThrow(/n must be a whole number above 0, got 0/)
    expect(() => rankSumDistribution(2, 1.5)).toThrow(/n must be a whole number above 0, got 1.5/)
    expect(() => concordanceDistribution(NaN)).toThrow(RangeError)
    expect(lowerTail(concordanceDistribution(3), -1)).toBe(0)
  })
})
