import { describe, expect, test } from 'vitest'
import { randomStream } from '../../src/simulate/random.js'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const PUMP_CHANGED_DAY = 6 + 9 / 24
const bubble = randomStream(13, 'bubbles')

const said = runScenario({
  id: 'S13',
  title: 'Bubbles after a pump change',
  from: '2026-05-01',
  days: 14,
  intervalS: 60,
  points: { FE5: { water: 0.055, grabs: { at: ['08:20'] } } },
  analyzers: {
    'FE5-A': {
      arrives: (shown, { day }) =>
        day >= PUMP_CHANGED_DAY && bubble.uniform() < 0.2 ? shown + bubble.between(0.05, 0.4) : shown,
    },
  },
})

describe('S13 Bubbles after a pump change', () => {
  const [began] = said.findings('bubbles', 'FE5-A')

  test('must say: bubbles, their share and since when', () => {
    expect(began?.data.phase).toBe('began')
    expect(began?.data.detail.sharePct).toBeGreaterThanOrEqual(12)
    expect(began?.data.detail.sharePct).toBeLessThanOrEqual(28)
    expect(began?.data.summary).toMatch(/bubbles raise \d+ % of the readings/)
    // The hour of the pump change, give or take the hours over which the share must hold.
    expect(Math.abs(Date.parse(began?.data.since ?? '') - Date.parse('2026-05-07T09:00:00Z'))).toBeLessThan(2 * 3.6e6)
  })
  test('must say: look at degassing, pressure and flow; the level of the unspoiled readings', () => {
    expect(began?.data.summary).toMatch(/degassing, pressure and flow/)
    expect(began?.data.detail.levelNtu).toBeCloseTo(0.055, 2)
    expect(said.opened('FE5-A').map(one => one.action)).toEqual(['check_sample_line'])
  })
  test('must not say: drift, cleaning or calibration', () => {
    expect(said.opened('FE5-A').every(one => one.bias === undefined)).toBe(true)
    expect(said.text()).not.toMatch(/drift|"(?:zero|span|zero_and_span|clean_then_verify)"/)
    expect(Math.abs(said.status('FE5-A').bias?.ntu ?? 1)).toBeLessThan(0.015)
  })
  test('must not say: spikes dropped without count', () => {
    const days = 14 - PUMP_CHANGED_DAY
    expect(said.explain('FE5-A').excluded.bubble ?? 0).toBeGreaterThan(0.8 * 0.2 * 1440 * days)
  })
  holdsEverywhere(said)
})
