import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const zeroWater = { type: 'zero_water', assigned: 0.01, standardUncertainty: 0.01 }

/** FE4-A is zeroed and at once read in the same zero water; nobody takes a grab sample. A week later it is checked on fresh water. */
const said = runScenario({
  id: 'checkedRightAfterZero',
  title: 'A verification inside limits right after a zero',
  from: '2026-05-01',
  days: 24,
  points: {
    FE4: {
      water: 0.065,
      grabs: { at: ['08:54', '20:54'], value: (readNtu, { day }) => (day > 10 && day < 18 ? undefined : readNtu) },
    },
  },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'FE4-A',
      time: '2026-05-12T10:00:00Z',
      action: 'zero',
      reference: zeroWater,
      asFound: 0.013,
      asLeft: 0.01,
      accepted: true,
    },
    {
      kind: 'work',
      id: 'W-2',
      analyzer: 'FE4-A',
      time: '2026-05-12T10:20:00Z',
      action: 'verified',
      reference: zeroWater,
      asFound: 0.011,
      accepted: true,
    },
    {
      kind: 'work',
      id: 'W-3',
      analyzer: 'FE4-A',
      time: '2026-05-18T10:00:00Z',
      action: 'verified',
      reference: zeroWater,
      asFound: 0.012,
      accepted: true,
    },
  ],
})

describe('a verification inside limits right after a zero', () => {
  const proofAt = (time: string) =>
    said.ofType('shift.summary').findLast(event => event.time <= time)?.data.awaitingProof[0]

  test('must say: it repeats as left and proves nothing; the proof is still awaited', () => {
    expect(proofAt('2026-05-13T12')?.summary).toMatch(/the zero of 12 May 2026, 10:00 UTC awaits proof; 0 of 4 grabs/)
  })
  test('must say: a check on another day stands for two of the four', () => {
    expect(proofAt('2026-05-18T18')?.summary).toMatch(/2 of 4 grabs are in/)
    const confirmed = said.ofType('work.confirmed')
    expect(confirmed.map(({ data }) => [data.work.id, data.pairs])).toEqual([['W-1', 2]])
    expect(confirmed[0]?.data.summary).toMatch(/2 grabs and 1 verification/)
  })
  test('must not say: effective before the first grab sample', () => {
    expect((said.ofType('work.confirmed')[0]?.time ?? '') > '2026-05-19').toBe(true)
  })
  test('must not say: anything asked of a sound analyzer', () => {
    expect(said.opened()).toEqual([])
    expect(said.suspects()).toEqual([])
  })
  holdsEverywhere(said)
})
