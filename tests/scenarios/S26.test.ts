import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const said = runScenario({
  id: 'S26',
  title: 'Below detection',
  from: '2026-05-01',
  days: 12,
  points: {
    FE1: { water: 0.03, grabs: { at: ['08:18'], value: () => '<0.02' } },
    FE2: { water: 0.02, grabs: { at: ['08:30'], value: (_, { day }) => (day < 5 ? 0.021 : '<0.02') } },
  },
  analyzers: { 'FE2-A': { reads: (truthNtu, { day }) => truthNtu + (day < 5 ? 0 : 0.1) } },
})

describe('S26 Below detection', () => {
  test('must say: a result below detection is kept as a bound, and FE1-A is compatible with it', () => {
    expect(said.refused.filter(({ outcome }) => outcome.kind === 'rejected')).toEqual([])
    const { grabs, comparison } = said.explain('FE1-A')
    expect(grabs).toHaveLength(12)
    expect(grabs.every(({ use }) => use === 'used')).toBe(true)
    expect(comparison.bounds).toBe(12)
    expect(comparison.pairs).toEqual([])
    expect(said.status('FE1-A').assessment).toBe('consistent')
  })
  test('must say: FE2-A reads high at least 0.10 NTU, once it is repeated', () => {
    const [opened] = said.opened('FE2-A')
    expect(opened?.summary).toMatch(/FE2-A reads at least 0\.(?:09\d|10|1) NTU high/)
    expect((opened?.openedAt ?? '') > '2026-05-06T12').toBe(true)
    expect((opened?.openedAt ?? '') < '2026-05-10').toBe(true)
  })
  test('must not say: anything about FE1-A, or that a bound is a value', () => {
    expect(said.opened('FE1-A')).toEqual([])
    expect(said.suspects()).toEqual([])
  })
  holdsEverywhere(said)
})
