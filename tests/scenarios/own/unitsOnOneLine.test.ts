import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan } from '../support/scenario.js'

/** CFE-B and CFE-C hang on one line, which begins to bring other water on 13 May. */
const plan: ScenarioPlan = {
  id: 'unitsOnOneLine',
  title: 'Two of three units hang on one sample line',
  from: '2026-05-01',
  days: 26,
  points: { CFE: { water: 0.07, grabs: 'none' } },
  analyzers: {
    'CFE-B': { reads: (truthNtu, { day }) => truthNtu + (day < 12 ? 0 : 0.06) },
    'CFE-C': { reads: (truthNtu, { day }) => truthNtu + (day < 12 ? 0 : 0.06) },
  },
  register: register => {
    for (const id of ['CFE-B', 'CFE-C']) Object.assign(register.points.CFE?.analyzers[id] ?? {}, { sampleLine: 'N2' })
  },
}

describe('two units on one line against a third', () => {
  const said = runScenario(plan)
  test('do not outvote it: a grab sample is asked for and none is named', () => {
    expect(said.requests().map(({ subject }) => subject)).toEqual(
      said.requests('point:CFE').map(({ subject }) => subject),
    )
    expect(said.opened('point:CFE')).toHaveLength(1)
    expect(said.opened('point:CFE')[0]?.action).toBe('take_grab')
  })
  test('their difference is still shown', () => {
    const redundant = said.explain('CFE-A').lines.find(one => one.line === 'redundant')
    expect(redundant?.evidence?.biasNtu).toBeLessThan(-0.04)
  })
  holdsEverywhere(said)
})

describe('two units on lines of their own against a third', () => {
  const said = runScenario({ ...plan, id: 'unitsOnOwnLines', register: () => undefined })
  test('outvote it, as far as any two can', () => {
    expect(said.opened('CFE-A')).toHaveLength(1)
  })
})

describe('grab samples that stand by the third', () => {
  const said = runScenario({
    ...plan,
    id: 'lineAgainstGrabs',
    points: { CFE: { water: 0.07, grabs: { at: ['02:00', '14:00'] } } },
  })
  test('point to what the two share', () => {
    expect(said.opened('CFE-A')).toEqual([])
    expect(said.opened('CFE-B')).toEqual([])
    expect(said.opened('CFE-C')).toEqual([])
    expect(said.opened('point:CFE').map(({ action }) => action)).toContain('check_sample_line')
    expect(said.explain('CFE-B').hypotheses[0]?.text).toMatch(/sample line N2 brings other water to CFE-B and CFE-C/)
  })
})
