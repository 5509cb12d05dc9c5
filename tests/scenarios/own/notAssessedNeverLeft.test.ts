import { describe, expect, test } from 'vitest'
import { planVisits } from '../../../src/plan/planVisits.js'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** The calmest readings there are prove nothing: FE6 has no grab samples, FE5 none for the last three weeks. */
const said = runScenario({
  id: 'notAssessedNeverLeft',
  title: 'An analyzer without independent evidence is never left alone',
  from: '2026-05-01',
  days: 32,
  intervalS: 900,
  points: {
    FE2: { water: 0.06, grabs: { at: ['08:20'] } },
    FE5: { water: 0.06, grabs: { at: ['08:30'], value: (ntu, { day }) => (day < 10 ? ntu : undefined) } },
    FE6: { water: 0.06, grabs: 'none' },
  },
  analyzers: { 'FE6-A': { noiseNtu: 0.0005 } },
  records: [{ kind: 'work', analyzer: 'FE2-A', time: '2026-05-04T09:00:00Z', action: 'cleaned', id: 'habit 1' }],
  register: register => {
    for (const id of ['FE2', 'FE5', 'FE6']) {
      const point = register.points[id]!
      register.points[id] = { ...point, ...(id === 'FE6' ? { habitualDays: 200 } : { habitualDays: 40 }) }
    }
  },
})

describe('an analyzer without independent evidence', () => {
  test.each([7, 30, 90])('must not say: it may be left alone, in a plan of %d days', days => {
    const plan = planVisits(said.state, days)
    expect(plan.leaveAlone.map(one => one.analyzer)).toEqual(['FE2-A'])
  })
  test('must say: FE5-A keeps the visit habit sets, FE6-A what is missing', () => {
    const plan = planVisits(said.state, 30)
    expect(plan.visits.map(one => [one.analyzer, one.jobs[0]?.reason])).toEqual([['FE5-A', 'habit']])
    const [fe6] = plan.notProven
    expect(fe6).toMatchObject({ analyzer: 'FE6-A', assessment: 'not_assessed' })
    expect(fe6?.missing.join()).toMatch(/grab/)
  })
  test('must not say: one of its visits is saved', () => {
    const plan = planVisits(said.state, 30)
    expect(plan.savable).toBe(1)
    expect(plan.leaveAlone[0]?.savable).toBeDefined()
  })
  holdsEverywhere(said)
})
