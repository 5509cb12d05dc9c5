import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** The dose is cut at noon of the ninth day; water comes to a point hours later, and reaches its new level in two more. */
const shifted =
  (levelNtu: number, share: number, lagH: number) =>
  (t: Moment): number => {
    const hours = (t.day - 8.5) * 24 - lagH
    const wander = 1 + 0.04 * Math.sin(2.1 * t.day + 40 * levelNtu) + 0.02 * Math.sin(9.3 * t.day + 90 * levelNtu)
    return levelNtu * wander * (1 + share * Math.max(0, Math.min(1, hours / 2)))
  }

const said = runScenario({
  id: 'S20',
  title: 'Coagulant dose changed',
  from: '2026-05-01',
  days: 16,
  points: {
    SW: { water: shifted(1.2, 0.4, 0.5) },
    FE1: { water: shifted(0.06, 0.3, 1) },
    FE2: { water: shifted(0.07, 0.24, 1.5) },
    FE3: { water: shifted(0.08, 0.35, 1) },
    FE4: { water: shifted(0.055, 0.3, 1.5) },
    FE5: { water: shifted(0.065, 0.4, 2) },
    FE6: { water: shifted(0.07, 0.32, 1) },
  },
})

describe('S20 Coagulant dose changed', () => {
  const [began, ended] = said.findings('process_change')

  test('must say: a process change common to many points, differences to references unchanged', () => {
    expect(began?.data.phase).toBe('began')
    expect(began?.data.since).toMatch(/^2026-05-09T1[2-4]/)
    expect(began?.data.summary).toMatch(/common to [3-7] points/)
    expect(began?.data.summary).toMatch(/differences to references unchanged/)
    expect(ended?.data.phase).toBe('ended')
    expect(String(ended?.data.detail.points).split(', ').length).toBeGreaterThanOrEqual(6)
    expect(Number(ended?.data.detail.grabs)).toBeGreaterThanOrEqual(2)
    expect(said.findings('process_change')).toHaveLength(2)
  })
  test('must not say: any request about an analyzer', () => {
    expect(said.opened()).toEqual([])
  })
  test('must not say: that the shifted floor is fouling', () => {
    expect(said.text()).not.toMatch(/fouling|film/)
    for (const analyzer of ['SW-A', 'FE1-A', 'FE2-A', 'FE3-A', 'FE3-B', 'FE4-A', 'FE5-A', 'FE6-A'])
      expect(said.status(analyzer).assessment).toBe('consistent')
  })
  holdsEverywhere(said)
})
