import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** The calibration of Tuesday took a span error of 6 % away: D-1002 now reads 6 % off the value it was given before. */
const said = runScenario({
  id: 'S37',
  title: 'Primary calibration, secondary value not renewed',
  from: '2026-05-01',
  days: 22,
  points: { CFE: { water: 0.06 } },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'CFE-B',
      time: '2026-05-12T10:00:00Z',
      action: 'calibrated_primary',
      reference: { type: 'primary_standard', id: 'P-0020', lot: 'F26-03', assigned: 20 },
      asFound: 21.2,
      asLeft: 20.05,
      accepted: true,
    },
    {
      kind: 'work',
      id: 'W-2',
      analyzer: 'CFE-B',
      time: '2026-05-15T10:00:00Z',
      action: 'verified',
      reference: { type: 'secondary_standard', id: 'D-1002', assigned: 35.0 },
      asFound: 32.9,
      accepted: false,
    },
    {
      kind: 'work',
      id: 'W-3',
      analyzer: 'CFE-B',
      time: '2026-05-18T10:00:00Z',
      action: 'standard_assigned',
      reference: { type: 'secondary_standard', id: 'D-1002', assigned: 32.9 },
      accepted: true,
    },
    {
      kind: 'work',
      id: 'W-4',
      analyzer: 'CFE-B',
      time: '2026-05-20T10:00:00Z',
      action: 'verified',
      reference: { type: 'secondary_standard', id: 'D-1002', assigned: 32.9 },
      asFound: 33.0,
      accepted: true,
    },
  ],
})

describe('S37 Primary calibration, secondary value not renewed', () => {
  test('must say: the value dates from before the primary calibration; assign it anew; the check proves nothing yet', () => {
    const [suspect, ...others] = said.suspects()
    expect(others).toEqual([])
    expect(suspect?.data).toMatchObject({ reference: 'standard', standard: 'D-1002', at: '2026-05-15T10:00:00Z' })
    expect(suspect?.data.summary).toMatch(/D-1002 \(35 NTU\) dates from before the primary calibration of 12 May 2026/)
    expect(suspect?.data.summary).toMatch(/says nothing yet/)
    expect(suspect?.data.ask).toMatch(/assign D-1002 anew on CFE-B/)
  })
  test('must not say: span because of that check', () => {
    expect(said.opened()).toEqual([])
  })
  test('the value assigned anew is in force, the register untouched, and a check on it counts', () => {
    const unit = said.state.points.get('CFE')?.fold.units[1]
    expect(unit?.work.standards.assignments).toMatchObject([{ id: 'D-1002', assignedNtu: 32.9 }])
    expect(unit?.verifications.map(one => one.use)).toEqual(['used', 'reference_contradicted', 'used'])
    expect(said.state.register?.plant.standards.find(one => one.id === 'D-1002')?.assignedNtu).toBe(35)
  })
  holdsEverywhere(said)
})
