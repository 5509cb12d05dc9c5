import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/** All filters rise by a third at noon of the ninth day and stay there. */
const raised =
  (levelNtu: number) =>
  (t: Moment): number =>
    levelNtu *
    (1 + 0.04 * Math.sin(2.1 * t.day + 40 * levelNtu)) *
    (1 + Math.max(0, Math.min(1, (t.day - 8.5) * 12)) / 3)

const said = runScenario({
  id: 'driftBesideProcessChange',
  title: 'Coagulant dose changed while one analyzer really drifts',
  from: '2026-05-01',
  days: 24,
  points: {
    FE1: { water: raised(0.06), grabs: { at: ['08:10', '20:10'] } },
    FE2: { water: raised(0.07), grabs: { at: ['08:20', '20:20'] } },
    FE3: { water: raised(0.08), grabs: { at: ['08:30', '20:30'] } },
    FE4: { water: raised(0.055), grabs: { at: ['08:40', '20:40'] } },
  },
  analyzers: { 'FE4-A': { reads: (truthNtu, { day }) => truthNtu - 0.006 * Math.max(0, day - 7) } },
})

describe('Coagulant dose changed while one analyzer really drifts', () => {
  test('the change of the process is said, once', () => {
    const [began] = said.findings('process_change')
    expect(began?.data.phase).toBe('began')
    expect(began?.data.summary).toMatch(/common to [34] points/)
    expect(said.findings('process_change')).toHaveLength(2)
  })
  test('the drift still opens at its analyzer, low, and nothing else does', () => {
    expect(said.opened().map(one => one.target)).toEqual([{ analyzer: 'FE4-A' }])
    expect(said.opened()[0]?.bias?.ntu).toBeLessThan(-0.02)
    expect(said.opened()[0]!.openedAt < '2026-05-20').toBe(true)
  })
  holdsEverywhere(said)
})
