import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** The output holds its last value while the standard is in the cell, and the record has a blank for the display. */
const said = runScenario({
  id: 'displayReadOnReference',
  title: 'The display written down with the standard in the cell',
  from: '2026-05-01',
  days: 8,
  points: { CFE: { water: 0.07 } },
  records: [
    {
      kind: 'work',
      analyzer: 'CFE-A',
      time: '2026-05-05T09:20:00Z',
      id: 'W-31',
      action: 'verified',
      reference: { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 },
      asFound: 34.1,
      displayed: 34.1,
    },
  ],
})

describe('The display written down with the standard in the cell', () => {
  test('must not say: display and record differ, or anything to be done', () => {
    expect(said.findings('display_differs')).toEqual([])
    expect(said.requests()).toEqual([])
  })
  test('must say: consistent, as before', () => {
    expect(said.status('CFE-A').assessment).toBe('consistent')
  })
  holdsEverywhere(said)
})
