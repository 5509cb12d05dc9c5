import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

const DIP_DAY = 9 + 13.2 / 24
/** Twelve minutes without power in the filter hall; then each instrument warms up, and comes back a little high. */
const dipped =
  (stays = 0) =>
  (shownNtu: number, { day }: Moment): number | undefined => {
    const minutes = (day - DIP_DAY) * 24 * 60
    if (minutes < 0) return shownNtu
    if (minutes < 12) return undefined
    return shownNtu + stays + 0.09 * Math.exp(-(minutes - 12) / 15)
  }

const said = runScenario({
  id: 'powerDip',
  title: 'A dip of the power in the filter hall',
  from: '2026-05-01',
  days: 18,
  intervalS: 60,
  points: {
    FE1: { water: 0.06 },
    FE2: { water: 0.07 },
    FE3: { water: 0.08 },
    FE4: { water: 0.055 },
    SW: { water: 1.2 },
  },
  analyzers: {
    'FE1-A': { arrives: dipped() },
    'FE2-A': { arrives: dipped() },
    'FE3-A': { arrives: dipped() },
    // One came back with another setting: 0.06 NTU high for good.
    'FE3-B': { arrives: dipped(0.06) },
    'FE4-A': { arrives: dipped() },
  },
})

describe('A dip of the power in the filter hall', () => {
  const [began, ended] = said.findings('power_dip')

  test('is one finding for the common cause, with all analyzers listed', () => {
    expect(said.findings('power_dip').map(one => one.data.phase)).toEqual(['began', 'ended'])
    expect(began?.data.detail.analyzers).toBe('FE1-A, FE2-A, FE3-A, FE3-B, FE4-A')
    expect(began?.data.since.slice(0, 15)).toBe('2026-05-10T13:1')
    expect(began?.data.summary).toMatch(/5 analyzers of Filter hall lost their signal together at about 13:1\d UTC/)
    expect(ended!.time < '2026-05-10T17').toBe(true)
  })
  test('readings count again once each has settled, with the reason for those left out', () => {
    for (const analyzer of ['FE1-A', 'FE2-A', 'FE3-A', 'FE4-A']) {
      expect(said.explain(analyzer).excluded.settling).toBeGreaterThan(20)
      expect(said.status(analyzer).assessment).toBe('consistent')
    }
  })
  test('a step that stays is still judged at its analyzer, and at no other', () => {
    expect(new Set(said.opened().map(one => one.target.analyzer ?? one.target.point))).toEqual(new Set(['FE3-B']))
    expect(said.opened('FE3-B')[0]?.bias?.ntu).toBeGreaterThan(0.04)
    expect(said.opened('FE3-B')[0]?.onset?.estimate.slice(0, 8)).toBe('2026-05-')
  })
  holdsEverywhere(said)
})
