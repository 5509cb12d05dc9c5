import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** D-1002 stands on CFE-B. The span leaves CFE-A a little off at 34 NTU and changes nothing at filtered water. */
const said = runScenario({
  id: 'S30',
  title: "Another analyzer's secondary standard",
  from: '2026-05-01',
  days: 14,
  points: { CFE: { water: 0.06 } },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'CFE-A',
      time: '2026-05-08T10:00:00Z',
      action: 'span',
      reference: { type: 'secondary_standard', id: 'D-1002', assigned: 35.0 },
      asFound: 33.1,
      asLeft: 35.0,
      accepted: true,
    },
  ],
})

describe("S30 Another analyzer's secondary standard", () => {
  test('must say: the standard does not belong to CFE-A, with both serials; repeat with D-1001', () => {
    const [suspect, ...others] = said.suspects('standard')
    expect(others).toEqual([])
    expect(suspect?.data).toMatchObject({ analyzer: 'CFE-A', standard: 'D-1002' })
    expect(suspect?.data.summary).toMatch(/D-1002 is assigned on CFE-B, CFE-A has D-1001/)
    expect(suspect?.data.ask).toMatch(/repeat with D-1001/)
  })
  test('must say: the result is not used as proof', () => {
    expect(said.suspects('standard')[0]?.data.summary).toMatch(/no proof/)
    const [verdict] = said.verdicts('CFE-A')
    expect(verdict?.type).toBe('work.undecided')
    expect(verdict?.data.because.join(' ')).toMatch(/D-1002/)
  })
  test('must not say: effective on the strength of that standard', () => {
    expect(said.ofType('work.confirmed')).toEqual([])
  })
  test('must not say: a request because of it', () => {
    expect(said.opened()).toEqual([])
  })
  holdsEverywhere(said)
})
