import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario, type Said, type ScenarioPlan } from './support/scenario.js'

/** Cut at 01:00 of the seventh day; at 10:00 the gateway sends what it kept, in order, within ten minutes. */
const CUT = 6 + 1 / 24
const BACK = 6 + 10 / 24
const POINTS = ['RW', 'SW', 'FE1', 'FE2', 'FE3', 'FE4', 'FE5', 'CFE'] as const

function plan(id: string, isCut: boolean): ScenarioPlan {
  const kept = {
    comesAfterMin: ({ day }: { day: number }): number => {
      if (!isCut || day < CUT || day >= BACK) return 0.5
      return (BACK - day) * 1440 + (10 * (day - CUT)) / (BACK - CUT)
    },
  }
  const analyzers = [
    'RW-A',
    'RW-B',
    'SW-A',
    'FE1-A',
    'FE2-A',
    'FE3-A',
    'FE3-B',
    'FE4-A',
    'FE5-A',
    'CFE-A',
    'CFE-B',
    'CFE-C',
  ]
  return {
    id,
    title: 'Gateway silent nine hours, then empties its buffer',
    from: '2026-05-01',
    days: 9,
    register: register => {
      for (const point of ['FE1', 'FE3', 'CFE']) register.points[point]!.use = ['controlling']
    },
    points: Object.fromEntries(POINTS.map(point => [point, { water: WATER[point] }])),
    analyzers: Object.fromEntries(analyzers.map(analyzer => [analyzer, kept])),
  }
}

const WATER = { RW: 20, SW: 1.2, FE1: 0.05, FE2: 0.06, FE3: 0.07, FE4: 0.05, FE5: 0.06, CFE: 0.06 } as const

/** Charts, pairs and differences of every point as the fold leaves them. */
function charts(said: Said): unknown {
  return [...said.state.points.values()].map(({ id, fold, pairs, differences }) => [
    id,
    fold.units.map(({ grab, estimate }) => ({ grab, estimate })),
    fold.lines,
    pairs,
    differences,
  ])
}

describe('S17 Gateway silent nine hours, then empties its buffer', () => {
  const said = runScenario(plan('S17', true))
  const [began, ended, ...more] = said.findings('many_silent')

  test('must say: silent, once for the common cause, and that they are heard again', () => {
    expect(began?.time.slice(0, 16)).toBe('2026-05-07T01:32')
    expect(began?.data.since).toBe('2026-05-07T01:00:00Z')
    expect(String(began?.data.detail.analyzers).split(' ')).toHaveLength(12)
    expect(began?.data.summary).toMatch(/12 analyzers fell silent together/)
    expect(ended?.data.summary).toMatch(/12 of 12 analyzers are heard again/)
    expect(more).toEqual([])
  })
  test('must say: at once, and once, that points in use have no usable reading', () => {
    const atOnce = said.events.filter(one => 'notify' in one.data && one.data.notify === 'at_once')
    expect(atOnce.map(one => [one.subject, one.data.summary])).toEqual([
      ['CFE', expect.stringMatching(/nor at FE1, FE3; one cause is likely: check network.*start manual sampling/)],
    ])
  })
  test('must not say: an alarm for each analyzer, or a request', () => {
    expect(said.findings('silent')).toEqual([])
    expect(said.opened()).toEqual([])
  })
  test('must not say: "agrees" for the silent hours', () => {
    const statuses = said
      .ofType('analyzer.status')
      .filter(one => one.time > '2026-05-07T01:33:00Z' && one.time < '2026-05-07T10:00:00Z')
    expect(new Set(statuses.map(one => one.data.assessment))).toEqual(new Set(['signal_fault']))
  })
  test('must say: readings at their own time; charts equal to those of a run in which they were on time', () => {
    expect(charts(said)).toEqual(charts(runScenario(plan('S17-punctual', false))))
  })
  test('must not say: repeats or rejects for honest late readings', () => {
    expect(said.refused).toEqual([])
    for (const analyzer of ['RW-A', 'FE3-B', 'CFE-C']) {
      const { excluded } = said.explain(analyzer)
      expect([excluded.repeat, excluded.late, excluded.too_old]).toEqual([undefined, undefined, undefined])
    }
  })
  holdsEverywhere(said)
})
