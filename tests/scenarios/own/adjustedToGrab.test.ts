import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** One bottle of SW was 0.3 NTU too turbid; SW-A is turned up to it on flowing water, without any reference. */
const said = runScenario({
  id: 'adjustedToGrab',
  title: 'Adjusted with no standard to the last grab sample',
  from: '2026-05-01',
  days: 24,
  points: { SW: { water: 1.4, grabs: { at: ['07:30', '19:30'] } } },
  analyzers: { 'SW-A': { reads: (truthNtu, { day }) => truthNtu + (day > 11.42 ? 0.3 : 0) } },
  records: [
    { kind: 'grab', point: 'SW', sampled: '2026-05-12T09:00:00Z', value: 1.71, unit: 'NTU', sampleId: 'SW-x' },
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'SW-A',
      time: '2026-05-12T10:00:00Z',
      action: 'span',
      asFound: 1.41,
      asLeft: 1.71,
      accepted: true,
    },
  ],
})

describe('adjusted with no standard to the last grab sample', () => {
  test('must say: left equal to the sample, which sets no analyzer; repeat on a reference', () => {
    const [suspect] = said.suspects('work_record')
    expect(suspect?.data.summary).toMatch(
      /no reference is named and it was left equal to grab sample SW-x \(1\.71 NTU\)/,
    )
    expect(suspect?.data.ask).toMatch(/repeat it on a reference/)
  })
  test('must say: the work made it worse, and asks for a check', () => {
    const [verdict] = said.verdicts('SW-A')
    expect(verdict?.type).toBe('work.not_confirmed')
    expect(verdict?.data.summary).toMatch(/made it worse/)
    expect(said.opened('SW-A')).toHaveLength(1)
    expect(said.opened('SW-A')[0]?.bias?.ntu).toBeGreaterThan(0.15)
  })
  test('must not say: effective', () => {
    expect(said.ofType('work.confirmed')).toEqual([])
  })
  holdsEverywhere(said)
})
