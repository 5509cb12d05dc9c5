import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const CHECKED = '2026-05-20T09:20:00Z'

/** 1.6 NTU low at 12 NTU since 8 May; the check asked for finds zero water at −1.6 NTU and the standard right but for that. */
const said = runScenario({
  id: 'checkTellsZero',
  title: 'Zero or span undecided, then the check that was asked for tells',
  from: '2026-05-01',
  days: 23,
  points: { RW: { water: ({ day }) => 12 + Math.sin(day / 1.3), grabs: { at: ['10:00'] } } },
  analyzers: { 'RW-A': { reads: (truthNtu, { day }) => truthNtu - (day < 7 ? 0 : 1.6) } },
  records: [
    {
      kind: 'work',
      analyzer: 'RW-A',
      time: '2026-05-20T09:00:00Z',
      action: 'verified',
      id: 'w-1',
      visit: 'v-1',
      reference: { type: 'zero_water', assigned: 0 },
      asFound: -1.58,
      accepted: true,
    },
    {
      kind: 'work',
      analyzer: 'RW-A',
      time: CHECKED,
      action: 'verified',
      id: 'w-2',
      visit: 'v-1',
      reference: { type: 'secondary_standard', id: 'D-1014', assigned: 36.2 },
      asFound: 34.6,
      accepted: true,
    },
  ],
})

describe('Zero or span undecided, then the check that was asked for tells', () => {
  test('must say first: the check', () => {
    expect(said.opened('RW-A')[0]?.action).toBe('verify')
  })
  test('must say after it: zero, in the same request', () => {
    const last = said.requests('RW-A').at(-1)?.data
    expect(last?.action).toBe('zero')
    expect(last?.cause.ranked[0]?.cause).toBe('zero_drift')
    expect(said.opened()).toHaveLength(1)
  })
  test('must not say: span, at any time', () => {
    for (const { data } of said.requests()) expect(data.action).not.toMatch(/span/)
  })
  holdsEverywhere(said)
})
