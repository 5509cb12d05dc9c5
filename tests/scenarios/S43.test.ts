import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** Evidence begins with it: a begin before it is a begin before the evidence. */
const FIRST_GRAB = '2026-05-01T09:06:00Z'

const said = runScenario({
  id: 'S43',
  title: 'First days, no history',
  from: '2026-05-01',
  days: 12,
  points: { FE5: { water: 0.06, grabs: { at: ['09:06'] } } },
  analyzers: { 'FE5-A': { reads: truthNtu => truthNtu + 0.06 } },
})

const statuses = said.ofType('analyzer.status').filter(({ subject }) => subject === 'FE5-A')

describe('S43 First days, no history', () => {
  test('must say: not assessed at first, and what is missing', () => {
    const [first] = statuses
    expect(first?.data.assessment).toBe('not_assessed')
    expect(first?.data.missing.join()).toMatch(/needs 3 grab samples or a verification/)
  })
  test('must say: then the bias from the grab samples, since before the first reading', () => {
    const [opened] = said.opened('FE5-A')
    expect(opened?.bias?.ntu).toBeGreaterThan(0.04)
    expect(opened?.bias?.ntu).toBeLessThan(0.08)
    expect(opened?.summary).toMatch(/since before/)
    expect(opened?.evidence.map(({ line }) => line)).toEqual(['grab'])
  })
  test('must not say: consistent from day one, or the starting bias as normal', () => {
    expect(statuses.map(({ data }) => data.assessment)).not.toContain('consistent')
    expect(said.explain('FE5-A').comparison.laboratoryOffsetNtu).toBeLessThan(0.011)
  })
  test('must not say: an onset date inside the record', () => {
    for (const { data } of said.requests('FE5-A')) {
      expect(data.onset?.earliest).toBeUndefined()
      expect(data.summary).not.toMatch(/since about/)
      expect((data.onset?.estimate ?? '') < FIRST_GRAB).toBe(true)
    }
  })
  holdsEverywhere(said)
})
