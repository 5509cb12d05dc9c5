import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const VISIT = '2026-06-09T09:00:00Z'
const VISIT_DAY = 8.4

/** Through the skylights, from six in the morning to six in the evening. */
const lightNtu = (day: number, hour: number) =>
  day < VISIT_DAY ? 0 : Math.min(0.03, Math.max(0, 0.06 * Math.sin((Math.PI * (hour - 5)) / 14)))

const said = runScenario({
  id: 'S12',
  title: 'Lid left open',
  from: '2026-06-01',
  days: 22,
  points: { CFE: { water: 0.06, grabs: { at: ['02:10', '08:10', '14:10', '20:10'] } } },
  analyzers: { 'CFE-B': { reads: (truthNtu, { day, hour }) => truthNtu + lightNtu(day, hour) } },
  records: [
    { kind: 'work', analyzer: 'CFE-B', time: VISIT, action: 'maintenance_on', id: 'w-1' },
    {
      kind: 'work',
      analyzer: 'CFE-B',
      time: '2026-06-09T09:20:00Z',
      action: 'verified',
      id: 'w-2',
      reference: { type: 'secondary_standard', id: 'D-1002', assigned: 35.1 },
      asFound: 35.2,
      accepted: true,
    },
    { kind: 'work', analyzer: 'CFE-B', time: '2026-06-09T09:40:00Z', action: 'maintenance_off', id: 'w-3' },
  ],
})

describe('S12 Lid left open', () => {
  test('must say: inspect cover and shade, stray light, since the visit, by day', () => {
    const [opened] = said.opened('CFE-B')
    expect(opened?.action).toBe('inspect')
    expect(opened?.cause.ranked[0]?.cause).toBe('stray_light')
    expect(opened?.summary).toMatch(/NTU by day and -?[\d.]+ NTU by night since the visit of 9 Jun 2026/)
    expect(opened?.summary).toMatch(/look at cover and shade/)
    expect((opened?.openedAt ?? '9') < '2026-06-17').toBe(true)
  })
  test('must not say: zero drift first, zero, or that the visit helped', () => {
    for (const { data } of said.requests('CFE-B')) {
      expect(data.action).not.toMatch(/zero/)
      expect(data.cause.ranked.find(({ cause }) => cause !== 'undecided')?.cause).not.toBe('zero_drift')
    }
    expect(said.ofType('work.confirmed')).toEqual([])
    expect(said.opened('CFE-A')).toEqual([])
    expect(said.opened('CFE-C')).toEqual([])
  })
  holdsEverywhere(said)
})
