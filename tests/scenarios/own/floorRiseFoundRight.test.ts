import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan } from '../support/scenario.js'

/** FE5 has one analyzer and no grab samples; on 19 May its water becomes dirtier, alone among the filters. */
const plan: ScenarioPlan = {
  id: 'floorRiseFoundRight',
  title: 'The clean-water floor rises, and a verification finds the analyzer right',
  from: '2026-05-01',
  days: 34,
  points: {
    FE5: { water: ({ day }) => 0.05 + (day < 18 ? 0 : 0.06) + 0.004 * Math.sin(day * 5), grabs: 'none' },
    FE1: { water: 0.04 },
    FE2: { water: 0.06 },
    FE4: { water: 0.07 },
  },
  records: [
    {
      kind: 'work',
      analyzer: 'FE5-A',
      time: '2026-05-28T10:00:00Z',
      id: 'W-1',
      action: 'verified',
      accepted: true,
      reference: { type: 'zero_water', assigned: 0 },
      asFound: 0.004,
    },
    {
      kind: 'work',
      analyzer: 'FE5-A',
      time: '2026-05-28T10:20:00Z',
      id: 'W-2',
      action: 'verified',
      accepted: true,
      reference: { type: 'secondary_standard', id: 'D-1009', assigned: 36.0 },
      asFound: 35.7,
    },
  ],
}
const said = runScenario(plan)

describe('a floor that rises with no comparator', () => {
  test('is watched, with its size and since when, and opens nothing', () => {
    const status = said.status('FE5-A', '2026-05-25')
    expect(status.assessment).toBe('watch')
    expect(status.summary).toMatch(
      /its cleanest water stands 0\.0(?:5\d|6\d?) NTU higher than its habit \(tolerance 0\.05\)/,
    )
    expect(status.summary).toMatch(/since about (?:18|19|20) May/)
    expect(status.bias).toBeUndefined()
    expect(status.missing.join()).toMatch(/needs 3 grab samples or a verification/)
    expect(said.opened()).toEqual([])
  })
  test('was not assessed before, and never called consistent without a comparison', () => {
    expect(said.status('FE5-A', '2026-05-17').assessment).toBe('not_assessed')
  })
})

describe('a verification inside its limits', () => {
  test('is evidence that the analyzer is sound: the floor was the water', () => {
    const status = said.status('FE5-A')
    expect(status.assessment).toBe('consistent')
    expect(status.missing).toEqual([])
    expect(status.lastIndependentEvidence).toBe('2026-05-28T10:20:00Z')
    expect(Math.abs(status.bias?.ofTolerance ?? 9)).toBeLessThan(0.5)
  })
  test('stands among the lines, each with what it says or why it says nothing', () => {
    const { lines } = said.explain('FE5-A')
    const line = (name: string) => lines.find(one => one.line === name)
    expect(lines.map(one => one.line)).toEqual([
      'grab',
      'redundant',
      'verification',
      'related',
      'clean_water_floor',
      'diagnostics',
    ])
    expect(line('grab')?.missing).toMatch(/no grab sample/)
    expect(line('redundant')?.missing).toMatch(/no second unit/)
    expect(line('verification')?.evidence?.n).toBe(2)
    expect(line('verification')?.evidence?.says).toMatch(
      /standard D-1009 on 28 May 2026: as found 35\.7 NTU for 36 NTU, inside its limit of 1\.8/,
    )
    expect(line('related')?.missing).toMatch(/names no points that flow into this one/)
    expect(line('clean_water_floor')?.evidence?.says).toMatch(/higher than its habit/)
  })
  holdsEverywhere(said)
})

describe('the same records, handed in days late', () => {
  const records = plan.records?.map(record => ({ ...record, comes: '2026-05-31T09:00:00Z' }))
  const late = runScenario({ ...plan, ...(records === undefined ? {} : { records }) })
  test('end in the same lines and the same status', () => {
    expect(late.explain('FE5-A').lines).toEqual(said.explain('FE5-A').lines)
    const { since: _late, ...status } = late.status('FE5-A')
    const { since: _onTime, ...onTime } = said.status('FE5-A')
    expect(status).toEqual(onTime)
  })
})
