import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario, type Said, type ScenarioPlan } from './support/scenario.js'

const STUCK = { fromDay: 6 + 10 / 24, days: 28 / 24 }
const isStuck = ({ day }: Moment): boolean => day >= STUCK.fromDay && day < STUCK.fromDay + STUCK.days
const STEPS = 0.0001

const plan = (comesAfterH: number): ScenarioPlan => ({
  id: 'S14',
  title: 'Stuck signal',
  from: '2026-05-01',
  days: 12,
  intervalS: 60,
  points: { FE2: { water: 0.06, grabs: { at: ['08:20', '11:20', '20:20'], comesAfterH } } },
  register: register => {
    register.points.FE2!.analyzers['FE2-A']!.resolutionNtu = STEPS
  },
  analyzers: { 'FE2-A': { arrives: (shown, t) => (isStuck(t) ? 0.0431 : shown) } },
  records: [
    { kind: 'process', point: 'FE2', time: '2026-05-01T00:10:00Z', state: 'in_service' },
    { kind: 'process', point: 'FE2', time: '2026-05-07T20:00:00Z', state: 'backwash' },
    { kind: 'process', point: 'FE2', time: '2026-05-07T20:50:00Z', state: 'in_service' },
  ],
})

const said = runScenario(plan(0.25))

describe('S14 Stuck signal', () => {
  const [began, ended] = said.findings('stuck', 'FE2-A')

  test('must say: stuck, since when, at what value, readings not usable', () => {
    expect(began?.data.phase).toBe('began')
    expect(began?.data.detail.valueNtu).toBe(0.043)
    expect(began?.data.summary).toMatch(/repeated 0\.043 NTU for \d+\.\d h, since 7 May 2026/)
    expect(began?.data.since.slice(0, 13)).toBe('2026-05-07T10')
    expect(said.status('FE2-A', '2026-05-08T06:00:00Z').assessment).toBe('signal_fault')
    expect(ended?.data.phase).toBe('ended')
  })
  test('must say: compare the display with the recorded value, output and gateway', () => {
    expect(began?.data.summary).toMatch(/display.*output and gateway/)
    expect(said.opened('FE2-A').map(one => one.action)).toEqual(['check_signal'])
  })
  test('must not say: very low noise or agreement; nothing is learnt from it', () => {
    const during = said.text('2026-05-07T13:00:00Z', '2026-05-08T13:00:00Z')
    expect(during).not.toMatch(/low noise|agrees|"consistent"/)
    // Grab samples of that time found no reading to be compared with: also the one that came in before it was known.
    const day = said
      .explain('FE2-A')
      .grabs.filter(
        one => one.atMs > Date.parse('2026-05-07T10:00:00Z') && one.atMs < Date.parse('2026-05-08T14:00:00Z'),
      )
    expect(day.map(one => one.use)).not.toContain('used')
    // 28 hours of readings, but for those that backwash and restart took first.
    expect(said.explain('FE2-A').excluded.stuck ?? 0).toBeGreaterThan(26 * 60)
  })
  test('a result that comes a day late finds the same as one that came before the run was known to be stuck', () => {
    const pairs = (one: Said): unknown => one.state.points.get('FE2')?.pairs.slice(0, 30)
    expect(pairs(runScenario(plan(26)))).toEqual(pairs(said))
  })
  holdsEverywhere(said)
})
