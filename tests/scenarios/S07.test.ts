import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan, type Moment } from './support/scenario.js'

const BEGAN_DAY = 8
const STORM_DAY = 16

/** Eight days into the drift every filter carries three times its turbidity for two days. */
const filterNtu = (baseNtu: number, storm: boolean) => {
  return ({ day }: Moment): number => {
    const wave = 1 + 0.06 * Math.sin(day * 5)
    const isStorm = storm && day >= STORM_DAY && day < STORM_DAY + 2
    return baseNtu * wave * (isStorm ? 1 + 2 * Math.sin((Math.PI * (day - STORM_DAY)) / 2) : 1)
  }
}

/** From −0.025 NTU at the storm on. */
const driftNtu = (day: number) => -0.003 * Math.max(0, day - BEGAN_DAY)

const plan = (storm: boolean): ScenarioPlan => ({
  id: 'S07',
  title: 'Storm during a drift',
  from: '2026-05-01',
  days: 28,
  points: {
    FE1: { water: filterNtu(0.07, storm), grabs: { at: ['07:00'] } },
    FE2: { water: filterNtu(0.06, storm), grabs: { at: ['07:10'] } },
    FE3: { water: filterNtu(0.08, storm), grabs: { at: ['07:20', '19:20'] } },
    FE4: { water: filterNtu(0.07, storm), grabs: { at: ['07:30'] } },
  },
  analyzers: { 'FE3-B': { reads: (truthNtu, { day }) => truthNtu + driftNtu(day) } },
})

const said = runScenario(plan(true))
const calm = runScenario(plan(false))

describe('S07 Storm during a drift', () => {
  test('must say: opened no later than without the storm plus two days', () => {
    const [opened] = said.opened('FE3-B')
    const [without] = calm.opened('FE3-B')
    expect(opened?.action).toMatch(/^zero/)
    expect(Date.parse(opened?.openedAt ?? '')).toBeLessThanOrEqual(Date.parse(without?.openedAt ?? '') + 2 * 86_400_000)
  })
  test('must say: it began before the storm', () => {
    for (const { data } of said.requests('FE3-B')) {
      expect(data.onset?.estimate ?? '9').toMatch(/^2026-05-(0|1[0-4])/)
      expect((data.onset?.latest ?? '9') < '2026-05-17').toBe(true)
    }
  })
  test('must not say: an error that began at the storm, or anything of the other filters', () => {
    expect(said.text()).not.toMatch(/since about 1[67] May/)
    expect(said.opened().map(({ target }) => target.analyzer)).toEqual(['FE3-B'])
  })
  test('must not say: less evidence than before the storm, as charts begun anew would have', () => {
    const grabs = said.requests('FE3-B').map(({ data }) => data.evidence.find(({ line }) => line === 'grab')?.n ?? 0)
    expect(Math.min(...grabs)).toBeGreaterThan(15)
  })
  holdsEverywhere(said)
})
