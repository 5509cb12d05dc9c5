import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const said = runScenario({
  id: 'S31',
  title: 'Digits exchanged',
  from: '2026-05-01',
  days: 12,
  points: { CFE: { water: 0.06 } },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'CFE-A',
      time: '2026-05-08T10:00:00Z',
      action: 'span',
      reference: { type: 'secondary_standard', id: 'D-1001', assigned: 32.4 },
      asFound: 32.2,
      asLeft: 32.4,
      accepted: true,
    },
  ],
})

describe('S31 Digits exchanged', () => {
  test('must say: the assigned value differs from the register; which is right?', () => {
    const [suspect, ...others] = said.suspects()
    expect(others).toEqual([])
    expect(suspect?.data.summary).toMatch(/the record says 32\.4 NTU for D-1001, the register 34\.2 NTU/)
    expect(suspect?.data.ask).toMatch(/which of the two is right/)
  })
  test('must say: as left judged against both, 5.3 % low against 34.2', () => {
    expect(said.suspects()[0]?.data.summary).toMatch(/right against the first, 5\.3 % low against the second/)
  })
  test('must not say: pass without remark', () => {
    expect(said.ofType('work.confirmed')).toEqual([])
  })
  test('must not: change the register by itself', () => {
    expect(said.state.register?.plant.standards.find(one => one.id === 'D-1001')?.assignedNtu).toBe(34.2)
    expect(said.state.points.get('CFE')?.fold.units[0]?.work.standards.assignments).toEqual([])
  })
  holdsEverywhere(said)
})
