import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

const creep = (truthNtu: number, { day }: Moment): number => truthNtu - 0.004 * Math.max(0, day - 8)

const said = runScenario({
  id: 'twoOfThreeDrift',
  title: 'Two of three units drift alike and outvote the sound one',
  from: '2026-05-01',
  days: 30,
  points: { CFE: { water: 0.07, grabs: { at: ['02:10', '08:10', '14:10', '20:10'] } } },
  analyzers: { 'CFE-A': { reads: creep }, 'CFE-B': { reads: creep } },
})

describe(said.plan.title, () => {
  test('must say: both that drift read low, by the grab samples', () => {
    for (const id of ['CFE-A', 'CFE-B']) {
      const [opened] = said.opened(id)
      expect(opened?.bias?.ntu).toBeLessThan(0)
      expect(opened?.cause.ranked.find(one => one.cause !== 'undecided')?.cause).toBe('zero_drift')
      expect(opened?.action).toMatch(/^(zero|verify)$/)
    }
  })
  test('must not say: anything against the one that the majority accuses', () => {
    expect(said.opened('CFE-C')).toEqual([])
    expect(said.status('CFE-C').assessment).not.toBe('doubtful')
  })
  holdsEverywhere(said)
})
