import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario, type ScenarioPlan } from './support/scenario.js'

/** The night of the eighth of May: stuck from 22:00, maintenance from 01:00, no flow from 01:15, until 06:00. */
const STUCK = 6 + 22 / 24
const DRY = 7 + 1.25 / 24
const MORNING = 7 + 6 / 24
const during = (fromDay: number): ((t: Moment) => boolean) => {
  return ({ day }) => day >= fromDay && day < MORNING
}
const isStuck = during(STUCK)
const isDry = during(DRY)

const plan: ScenarioPlan = {
  id: 'S44',
  title: 'No usable unit at a reporting point',
  from: '2026-05-01',
  days: 10,
  intervalS: 60,
  points: { CFE: { water: 0.06 } },
  register: register => {
    register.points.CFE!.use = ['regulated']
  },
  analyzers: {
    'CFE-A': { arrives: (shown, t) => (isStuck(t) ? 0.061 : shown) },
    'CFE-C': { fields: t => ({ flowLMin: isDry(t) ? 0 : 1 }) },
  },
  records: [
    { kind: 'work', analyzer: 'CFE-B', time: '2026-05-08T01:00:00Z', action: 'maintenance_on' },
    { kind: 'work', analyzer: 'CFE-B', time: '2026-05-08T06:00:00Z', action: 'maintenance_off' },
  ],
}

describe('S44 No usable unit at a reporting point', () => {
  const said = runScenario(plan)
  const [began, ended] = said.findings('no_usable_unit', 'CFE')
  const night = said.events.filter(one => one.time >= '2026-05-08T00:00:00Z' && one.time < '2026-05-08T06:30:00Z')

  test('must say: one message at once: no usable reading at CFE, since when', () => {
    expect(began?.time.slice(0, 16)).toBe('2026-05-08T01:47')
    expect(began?.data.since).toBe('2026-05-08T01:15:00Z')
    expect(began?.data.summary).toMatch(/^CFE: no usable reading since 8 May 2026, 01:15 UTC \(0\.5 h\)/)
    expect(night.filter(one => 'notify' in one.data && one.data.notify === 'at_once')).toEqual([began])
  })
  test('must say: which unit is quickest to restore and why; start manual sampling as the local rule requires', () => {
    expect(began?.data.detail).toMatchObject({
      quickest: 'CFE-B',
      'CFE-A': 'stuck',
      'CFE-B': 'in maintenance',
      'CFE-C': 'without sample flow',
    })
    expect(began?.data.summary).toMatch(
      /CFE-B in maintenance, CFE-A stuck, CFE-C without sample flow; quickest is CFE-B: end its maintenance/,
    )
    expect(began?.data.summary).toMatch(/start manual sampling as the local rule requires\.$/)
  })
  test('must say: that it is over, and with which unit', () => {
    expect(ended?.data.phase).toBe('ended')
    expect(ended?.data.summary).toMatch(/usable again \(CFE-A\)/)
  })
  test('must not say: three unrelated alarms, or anything of an interlock', () => {
    expect(night.filter(one => one.type === 'recommendation.opened')).toEqual([])
    expect(said.text()).not.toMatch(/interlock|bypass/i)
  })
  holdsEverywhere(said)
})

describe('S44 No usable unit at a reporting point, a published rule chosen in the register', () => {
  const said = runScenario({
    ...plan,
    id: 'S44-rule',
    register: register => {
      Object.assign(register.points.CFE!, { use: ['regulated'], criteria: ['grabs_every_4_h_5_working_days'] })
    },
  })
  const [began, ...more] = said.findings('no_usable_unit', 'CFE').filter(one => one.data.phase === 'began')

  test('must say: the rule with its source, every four hours and at most five working days', () => {
    expect(began?.data.detail).toMatchObject({ quickest: 'CFE-B', source: '40 CFR 141.174(b)', everyHours: 4 })
    expect(began?.data.summary).toMatch(/every 4 h, at most 5 working days \(40 CFR 141\.174\(b\)\)/)
    expect(began?.data.detail).toMatchObject({ hoursUsed: 0.5, hoursAllowed: 120, until: '2026-05-15T01:15:00Z' })
    expect(more).toEqual([])
  })
  test('must say: the hours used of those allowed, as they grow, beside the status and apart from it', () => {
    const criteria = said.status('CFE-A', '2026-05-08T05:30:00Z').criteria ?? []
    expect(criteria.map(one => [one.criterion, one.outcome])).toEqual([['grabs_every_4_h_5_working_days', 'within']])
    expect(criteria[0]?.values).toMatchObject({ hoursSinceSample: 2.8, everyHours: 4, hoursUsed: 3.8, samples: 1 })
    expect(said.status('CFE-A', '2026-05-08T07:30:00Z').criteria?.[0]?.summary).toMatch(/a unit of CFE counts/)
  })
  test('must not say: another alarm for the same', () => {
    const night = said.events.filter(one => one.time >= '2026-05-08T00:00:00Z' && one.time < '2026-05-08T06:30:00Z')
    expect(night.filter(one => 'notify' in one.data && one.data.notify === 'at_once')).toEqual([began])
  })
  holdsEverywhere(said)
})
