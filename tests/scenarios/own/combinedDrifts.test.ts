import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan } from '../support/scenario.js'

const FILTERS = ['FE1', 'FE2', 'FE4', 'FE5', 'FE6']

/** All filters and the combined effluent rise and fall together; nobody takes a grab sample at CFE, and it has one unit. */
const wander = (day: number) => 0.06 + 0.02 * Math.sin(day / 3) + 0.005 * Math.sin(day * 4)
const steady = (day: number) => 0.06 + 0.004 * Math.sin(day * 4)
const plan: ScenarioPlan = {
  id: 'combinedDrifts',
  title: 'The combined effluent drifts away from its filters',
  from: '2026-05-01',
  days: 34,
  points: {
    CFE: { water: ({ day }) => wander(day), grabs: 'none' },
    ...Object.fromEntries(FILTERS.map(id => [id, { water: ({ day }: { day: number }) => wander(day) }])),
  },
  register: register => {
    const { CFE } = register.points
    const { 'CFE-A': only } = CFE?.analyzers ?? {}
    Object.assign(register.points, { CFE: { ...CFE, analyzers: { 'CFE-A': only } } })
    register.standards = (register.standards ?? []).filter(
      ({ analyzer }) => analyzer !== 'CFE-B' && analyzer !== 'CFE-C',
    )
  },
}

describe('an analyzer that drifts where several points flow together', () => {
  const said = runScenario({
    ...plan,
    analyzers: { 'CFE-A': { reads: (truthNtu, { day }) => truthNtu + 0.008 * Math.max(0, day - 16) } },
  })
  test('is watched with the size against its filters, and asked nothing', () => {
    const { assessment, summary } = said.status('CFE-A')
    expect(assessment).toBe('watch')
    expect(summary).toMatch(/beside FE1, FE2, FE4, FE5, FE6 it stands 0\.1\d NTU higher than its habit/)
    expect(said.opened()).toEqual([])
  })
  test('the line and its days stand in the explanation', () => {
    const related = said.explain('CFE-A').lines.find(one => one.line === 'related')
    expect(related?.evidence?.n).toBeGreaterThan(25)
    expect(related?.evidence?.points.at(-1)?.[1]).toBeGreaterThan(1.5)
    expect(related?.evidence?.chart).toBeUndefined()
  })
  holdsEverywhere(said)
})

describe('the same water with a sound analyzer', () => {
  const said = runScenario({ ...plan, id: 'combinedSound' })
  test('is not watched however its level wanders, and not called consistent either', () => {
    const seen = said.ofType('analyzer.status').filter(({ subject }) => subject === 'CFE-A')
    expect(new Set(seen.map(({ data }) => data.assessment))).toEqual(new Set(['not_assessed']))
  })
})

describe('water that gets dirtier at every point at once', () => {
  const said = runScenario({
    ...plan,
    id: 'combinedDirtier',
    points: Object.fromEntries(
      ['CFE', ...FILTERS].map(id => [
        id,
        { water: ({ day }: { day: number }) => steady(day) + (day < 18 ? 0 : 0.06), grabs: 'none' as const },
      ]),
    ),
  })
  test('lifts every floor and has no analyzer watched: no floor is a film', () => {
    const late = said.ofType('analyzer.status').filter(({ time }) => time > '2026-05-24')
    expect(new Set(late.map(({ data }) => data.assessment))).toEqual(new Set(['not_assessed']))
    const floor = said.explain('FE4-A').lines.find(one => one.line === 'clean_water_floor')
    expect(floor?.evidence?.says).toMatch(/as other points are: the water, not the analyzer/)
    expect(said.opened()).toEqual([])
  })
})
