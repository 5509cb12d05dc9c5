import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const said = runScenario({
  id: 'S41',
  title: 'Effect not yet known',
  from: '2026-05-01',
  days: 22,
  points: {
    FE4: {
      water: 0.065,
      grabs: { at: ['08:54'], value: (readNtu, { day }) => (day > 9 && day < 15.4 ? undefined : readNtu) },
    },
  },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'FE4-A',
      time: '2026-05-11T10:00:00Z',
      action: 'zero',
      reference: { type: 'zero_water', assigned: 0.01, standardUncertainty: 0.01 },
      asFound: 0.014,
      asLeft: 0.01,
      accepted: true,
    },
  ],
})

describe('S41 Effect not yet known', () => {
  const shifts = () =>
    said.ofType('shift.summary').filter(({ time }) => time > '2026-05-11T11' && time < '2026-05-16T12')

  test('must say: not yet known, and that grab samples would settle it', () => {
    const [first] = said.verdicts('FE4-A')
    expect(first?.type).toBe('work.undecided')
    expect((first?.time ?? '') < '2026-05-15').toBe(true)
    expect(first?.data.missing?.join(' ')).toMatch(/4 grab samples .*, or 2 and a check on zero water would settle it/)
    expect(said.status('FE4-A', '2026-05-15T00:00:00Z').assessment).not.toBe('consistent')
  })
  test('must say: a reminder in each shift summary', () => {
    expect(shifts().length).toBeGreaterThanOrEqual(14)
    for (const { data } of shifts()) {
      const [waiting] = data.awaitingProof
      expect(waiting?.target).toEqual({ analyzer: 'FE4-A' })
      expect(waiting?.summary).toMatch(/awaits proof; 0 of 4 grabs are in/)
      expect(waiting?.missing.join(' ')).toMatch(/would settle it/)
    }
  })
  test('must not say: effective because readings look calm', () => {
    const confirmed = said.ofType('work.confirmed')
    expect(confirmed.map(({ data }) => data.pairs)).toEqual([4])
    expect((confirmed[0]?.time ?? '') > '2026-05-19').toBe(true)
  })
  holdsEverywhere(said)
})
