import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/** The settled water passes the range of 20 NTU in a storm: from 02:00 to 09:00 of the eighth day it stands at its end. */
function storm({ day }: Moment): number {
  const hours = (day - 7) * 24
  if (hours < 0 || hours > 14) return 1.2
  return 1.2 + 40 * (hours < 4 ? hours / 4 : Math.max(0, 1 - (hours - 4) / 10))
}

const said = runScenario({
  id: 'pinnedInStorm',
  title: 'Pinned at the end of its range in a storm, then released',
  from: '2026-05-01',
  days: 14,
  points: { SW: { water: storm, grabs: { at: ['04:10', '08:20', '20:20'] } } },
  analyzers: { 'SW-A': { arrives: shown => Math.min(20, shown) } },
})

describe('a reading pinned at the end of its range in a storm', () => {
  const [began, ended, ...more] = said.findings('beyond_range', 'SW-A')

  test('is a hold and no value while it lasts, and says which range', () => {
    expect(began?.data.summary).toMatch(/at the end of its range \(0 to 20 NTU\) for 1\.0 h/)
    expect(said.status('SW-A', '2026-05-08T06:00:00Z').assessment).toBe('signal_fault')
    expect(said.explain('SW-A').excluded.beyond_range ?? 0).toBeGreaterThan(60)
  })
  test('counts again by itself once the water is back', () => {
    expect(ended?.data.phase).toBe('ended')
    expect(more).toEqual([])
    expect(said.status('SW-A').assessment).toBe('consistent')
  })
  test('is not called stuck, low or restarting, and asks for nothing', () => {
    const own = said.findings().filter(one => one.data.finding !== 'process_change')
    expect(own.map(one => one.data.finding)).toEqual(['beyond_range', 'beyond_range'])
    expect(said.opened()).toEqual([])
    const pinned = said.explain('SW-A').grabs.find(one => one.atMs === Date.parse('2026-05-08T04:10:00Z'))
    expect(pinned?.use).toBe('no_usable_reading')
  })
  holdsEverywhere(said)
})
