import { describe, expect, test } from 'vitest'
import { foldText } from '../core/support/fold.js'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan } from './support/scenario.js'

/** FE3-B falls from 9 May on. The sample of Monday, 25 May, 07:30 is reported at its time, or on Thursday. */
const plan = (id: string, comes: string): ScenarioPlan => ({
  id,
  title: 'Result three days late',
  from: '2026-05-01',
  days: 29,
  points: {
    FE3: {
      water: 0.08,
      grabs: { at: ['07:30'], value: (readNtu, { day }) => (Math.floor(day) === 24 ? undefined : readNtu) },
    },
  },
  analyzers: { 'FE3-B': { reads: (truthNtu, { day }) => truthNtu - 0.0025 * Math.max(0, day - 8) } },
  records: [
    {
      kind: 'grab',
      comes,
      point: 'FE3',
      sampled: '2026-05-25T07:30:00Z',
      value: 0.08,
      unit: 'NTU',
      sampleId: 'FE3-25-1',
    },
  ],
})
const said = runScenario(plan('S24', '2026-05-28T09:10:00Z'))
const onTime = runScenario(plan('S24', '2026-05-25T09:30:00Z'))
const pairOf = (run: typeof said) => run.state.points.get('FE3')?.pairs.find(one => one.sampleId === 'FE3-25-1')

describe('S24 Result three days late', () => {
  test('must say: paired with Monday’s readings', () => {
    expect(pairOf(said)?.use).toBe('used')
    expect(pairOf(said)?.units).toEqual(pairOf(onTime)?.units)
  })
  test('must say: when the water was sampled and when the result became known', () => {
    const told = said.requests('FE3-B').filter(event => event.time >= '2026-05-28T09:10:00Z')
    expect(told.map(event => event.data.known)).toContain('2026-05-28T09:17:00Z')
    const [first] = told
    expect(first?.data.reason).toMatch(
      /result came late: grab sample FE3-25-1 of 25 May 2026, 07:30 UTC, known since 28 May 2026, 09:17 UTC/,
    )
    expect(first?.data.cause.because.join('\n')).toMatch(
      /grab sample FE3-25-1 of 25 May 2026, 07:30 UTC became known on 28 May 2026, 09:17 UTC/,
    )
  })
  test('must say: the same final state as if it had come on time', () => {
    expect(foldText(said.state)).toEqual(foldText(onTime.state))
  })
  test('must not say: refused for age, or set beside Thursday’s reading', () => {
    expect(said.refused).toEqual([])
    const thursday = said.state.points.get('FE3')?.pairs.find(one => one.sampleId === 'FE3-28-1')
    expect(pairOf(said)?.units[1]?.ntu).not.toBe(thursday?.units[1]?.ntu)
    expect(said.explain('FE3-B').excluded.too_old).toBeUndefined()
  })
  holdsEverywhere(said)
})
