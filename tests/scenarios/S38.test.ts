import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** The dilution has lost 12 %, not the analyzer: the grab samples agree with FE4-A before and after. */
const said = runScenario({
  id: 'S38',
  title: 'Standard past its date',
  from: '2026-05-01',
  days: 24,
  points: { FE4: { water: 0.065, grabs: { at: ['08:54', '20:54'] } } },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'FE4-A',
      time: '2026-05-12T10:00:00Z',
      action: 'verified',
      reference: { type: 'primary_standard', id: 'P-0020', lot: 'F25-11', expires: '2026-04-30', assigned: 20 },
      asFound: 17.6,
    },
  ],
})

describe('S38 Standard past its date', () => {
  test('must say: the standard is expired and suspect; repeat with a fresh one before adjusting', () => {
    const [suspect, ...others] = said.suspects()
    expect(others).toEqual([])
    expect(suspect?.data).toMatchObject({ reference: 'standard', analyzer: 'FE4-A', standard: 'P-0020' })
    expect(suspect?.data.summary).toMatch(/P-0020 \(20 NTU\) expired on 2026-04-30, so as found is not used/)
    expect(suspect?.data.ask).toMatch(/fresh one, in date, before adjusting/)
  })
  test('must not say: span, or any work because of it', () => {
    expect(said.opened()).toEqual([])
  })
  test('must not say: drift of 12 %', () => {
    expect(said.status('FE4-A').assessment).toBe('consistent')
    expect(said.text('2026-05-12T11:00:00Z')).not.toMatch(/12 %|1\.36/)
  })
  holdsEverywhere(said)
})
