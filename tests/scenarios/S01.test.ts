import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const said = runScenario({
  id: 'S01',
  title: 'Slow fall, two units',
  from: '2026-05-01',
  days: 30,
  points: { FE3: { water: 0.08, grabs: { at: ['07:30'] } } },
  analyzers: { 'FE3-B': { reads: (truthNtu, { day }) => truthNtu - 0.002 * Math.max(0, day - 8) } },
})

describe('S01 Slow fall, two units', () => {
  test('must say: zero FE3-B, before the bias passes 0.05 NTU on 3 June', () => {
    const [opened] = said.opened('FE3-B')
    expect(opened?.action).toMatch(/^zero/)
    expect(opened?.openedAt.slice(0, 10) ?? '').toMatch(/^2026-05-/)
    expect(opened?.bias?.ntu).toBeLessThan(0)
    expect(opened?.cause.ranked.find(one => one.cause !== 'undecided')?.cause).toBe('zero_drift')
    expect(opened?.evidence.map(one => one.line)).toEqual(expect.arrayContaining(['grab', 'redundant']))
    expect(opened?.summary).toMatch(/FE3-A/)
  })
  test('must say: the interval of the onset holds 9 May', () => {
    const { onset } = said.opened('FE3-B')[0] ?? {}
    expect((onset?.earliest ?? '') <= '2026-05-09T00:00:00Z').toBe(true)
    expect((onset?.latest ?? '') >= '2026-05-09T00:00:00Z').toBe(true)
  })
  test('must not say: anything against FE3-A, or that a film is likely', () => {
    expect(said.opened('FE3-A')).toEqual([])
    for (const { cause } of said.opened('FE3-B'))
      expect(cause.ranked.find(one => one.cause === 'fouling')?.probability ?? 0).toBeLessThan(0.1)
  })
  holdsEverywhere(said)
})
