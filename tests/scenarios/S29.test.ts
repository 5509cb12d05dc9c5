import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** FE6-A was right until its zero of 14 May was set on water of 0.05 NTU; the one of 24 May is set on proven water. */
const said = runScenario({
  id: 'S29',
  title: 'Zeroed on turbid water',
  from: '2026-05-01',
  days: 32,
  points: { FE6: { water: 0.07, grabs: { at: ['09:18'] } } },
  analyzers: {
    'FE6-A': { reads: (truthNtu, { day }) => truthNtu - (day > 13.42 && day < 23.42 ? 0.05 : 0) },
  },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'FE6-A',
      time: '2026-05-14T10:00:00Z',
      action: 'zero',
      reference: { type: 'zero_water', assigned: 0 },
      asFound: 0.05,
      asLeft: 0,
      accepted: true,
    },
    {
      kind: 'work',
      id: 'W-2',
      analyzer: 'FE6-A',
      time: '2026-05-24T10:00:00Z',
      action: 'zero',
      reference: { type: 'zero_water', assigned: 0 },
      asFound: -0.049,
      asLeft: 0,
      accepted: true,
    },
  ],
})

describe('S29 Zeroed on turbid water', () => {
  test('must say: the floor fell by about 0.05 NTU at the visit, the zero water is suspect', () => {
    const [suspect, ...others] = said.suspects('zero_water')
    expect(others).toEqual([])
    const [, shift] = /floor fell by about ([\d.]+) NTU with the zero of 14 May 2026/.exec(suspect?.data.summary ?? '')!
    expect(Number(shift)).toBeGreaterThan(0.04)
    expect(Number(shift)).toBeLessThan(0.06)
  })
  test('must say: not effective; repeat the zero with proven water', () => {
    const [first, second] = said.verdicts('FE6-A')
    expect(first).toMatchObject({ type: 'work.not_confirmed', data: { work: { id: 'W-1' } } })
    const [opened, ...others] = said.opened('FE6-A')
    expect(others).toEqual([])
    expect(opened?.action).toBe('zero')
    expect(opened?.cause.ranked[0]?.cause).toBe('zero_reference_bad')
    expect(said.suspects('zero_water')[0]?.data.ask).toMatch(/prove the zero water/)
    expect(second).toMatchObject({ type: 'work.confirmed', data: { work: { id: 'W-2' } } })
  })
  test('must not say: filter improved, or effective, before the second zero', () => {
    expect(said.text('', '2026-05-24T10')).not.toMatch(/improved|better|work\.confirmed|helped/)
    expect(said.findings('process_change')).toEqual([])
  })
  test('must not say: a downward drift since some other date', () => {
    const [opened] = said.opened('FE6-A')
    expect(opened?.summary).not.toMatch(/since about (?!1[345] May)/)
    expect(opened?.onset === undefined || opened.onset.latest >= '2026-05-14T10').toBe(true)
  })
  holdsEverywhere(said)
})
