import { describe, expect, test } from 'vitest'
import { registerSchema } from '../../src/model/register.js'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan } from './support/scenario.js'

const plan: ScenarioPlan = {
  id: 'S27',
  title: 'Another method on the bench',
  from: '2026-05-01',
  days: 30,
  points: {
    SW: {
      water: ({ day }) => 1.3 + 0.3 * Math.sin(day / 2),
      grabs: { at: ['07:30'], value: readNtu => readNtu / 1.2, fields: () => ({ unit: 'FNU' }) },
    },
  },
}
const said = runScenario(plan)

describe('S27 Another method on the bench', () => {
  test('must say once: methods differ, level not compared, change only, how a correlation is declared', () => {
    expect(said.findings('methods_differ')).toHaveLength(1)
    const [finding] = said.findings('methods_differ', 'SW')
    expect(finding?.data.summary).toMatch(/methods differ/)
    expect(finding?.data.summary).toMatch(/level is not compared, its change is/)
    expect(finding?.data.summary).toMatch(/points\.SW\.grab\.correlation\.FNU/)
    expect(said.status('SW-A')).toMatchObject({ assessment: 'not_assessed' })
    expect(said.status('SW-A').missing.join()).toMatch(
      /a site correlation or a verification: those in FNU show change only/,
    )
    const [grab] = said.explain('SW-A').lines
    expect(grab?.against).toBe('grab samples in FNU, change only')
  })
  test('must not say: a bias of 20 %, or that all such samples are refused', () => {
    expect(said.opened()).toEqual([])
    expect(said.text()).not.toMatch(/0\.2\d NTU (?:high|low)/)
    const { grabs } = said.explain('SW-A')
    expect(grabs.filter(({ use }) => use === 'learning_method')).toHaveLength(7)
    expect(grabs.filter(({ use }) => use === 'used').length).toBeGreaterThan(18)
  })
  holdsEverywhere(said)
})

describe('the change of an analyzer is seen by another method', () => {
  const drifts = runScenario({
    ...plan,
    days: 45,
    analyzers: { 'SW-A': { reads: (truthNtu, { day }) => truthNtu + 0.02 * Math.max(0, day - 20) } },
  })
  test('a drift opens, as large as it is', () => {
    const last = drifts.requests('SW-A').at(-1)?.data
    expect(drifts.opened('SW-A')).toHaveLength(1)
    expect(drifts.opened('SW-A')[0]?.onset?.estimate.slice(0, 7)).toBe('2026-05')
    expect(last?.bias?.ntu).toBeGreaterThan(0.1)
  })
})

describe('with a site correlation', () => {
  const correlation = {
    FNU: { slope: 1.2, basis: 'forty paired samples, spring 2026', relativeStandardUncertainty: 0.02 },
  }
  const register: ScenarioPlan['register'] = file => {
    const { SW } = file.points
    Object.assign(file.points, { SW: { ...SW, grab: { ...SW?.grab, correlation } } })
    registerSchema.parse(file)
  }
  test('the level is compared and nothing is said of methods', () => {
    const related = runScenario({ ...plan, register })
    expect(related.findings('methods_differ')).toEqual([])
    expect(related.opened()).toEqual([])
    expect(related.status('SW-A').assessment).toBe('consistent')
    expect(related.status('SW-A').bias?.ntu).toBeLessThan(0.1)
  })
  test('an analyzer that was wrong from the first day is found', () => {
    const wrong = runScenario({
      ...plan,
      register,
      analyzers: { 'SW-A': { reads: truthNtu => 1.25 * truthNtu } },
    })
    expect(wrong.opened('SW-A')[0]?.bias?.ntu).toBeGreaterThan(0.2)
  })
})
