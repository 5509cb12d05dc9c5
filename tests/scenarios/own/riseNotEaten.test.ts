import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/**
 * No process states anywhere. A storm breaks through one filter after the other, each within half an hour, on the fifth day
 * and lasts for two;
 * on the ninth day FE4-A jumps up by six tolerances and stays there.
 */
function broken(usualNtu: number, fromDay: number): (t: Moment) => number {
  return ({ day }) => {
    const hours = (day - fromDay) * 24
    if (hours < 0 || hours > 60) return usualNtu
    return usualNtu + 0.3 * (hours < 0.5 ? hours / 0.5 : hours < 48 ? 1 : 1 - (hours - 48) / 12)
  }
}

const said = runScenario({
  id: 'riseNotEaten',
  title: 'A storm through the filters and a step of an analyzer are no restarts',
  from: '2026-05-01',
  days: 16,
  points: {
    FE3: { water: broken(0.06, 4.5) },
    FE4: { water: broken(0.05, 4.54), grabs: { at: ['03:20', '09:20', '15:20', '21:20'] } },
  },
  analyzers: { 'FE4-A': { reads: (truthNtu, { day }) => truthNtu + (day >= 9 ? 0.3 : 0) } },
})

describe('a rise that is no restart', () => {
  const held = said.findings('not_in_service_inferred')

  test('is held for two hours at the most, then counts again as it is, and says so', () => {
    for (const ended of held.filter(one => one.data.phase === 'ended')) {
      expect(ended.data.summary).toMatch(/did not fall back within 2 h: no restart/)
      expect(Date.parse(ended.time) - Date.parse(ended.data.since)).toBeLessThanOrEqual(2.5 * 3.6e6)
    }
    // Once in the storm at each point, once at the step.
    expect(held.map(one => `${one.subject} ${one.data.phase}`).sort()).toEqual(
      ['FE3', 'FE4', 'FE4'].flatMap(point => [`${point} began`, `${point} ended`]).sort(),
    )
  })
  test('a storm blames nobody', () => {
    expect(said.opened().filter(one => one.openedAt < '2026-05-10')).toEqual([])
  })
  test('a step is found within two days, by its grab samples', () => {
    const [opened] = said.opened('FE4-A')
    expect(opened?.openedAt.slice(0, 10) ?? '').toMatch(/2026-05-1[01]/)
    expect(opened?.bias?.ntu).toBeGreaterThan(0.2)
    expect(said.opened('FE3-A')).toEqual([])
    expect(said.opened('FE3-B')).toEqual([])
  })
  holdsEverywhere(said)
})
