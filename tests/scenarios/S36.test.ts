import { describe, expect, test } from 'vitest'
import { foldText } from '../core/support/fold.js'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario, type ScenarioPlan } from './support/scenario.js'

/** A film grows on SW-A until it is washed off at 10:00 on 21 May. */
const film = ({ day }: Moment): number => (day < 20 + 10 / 24 ? 0.25 * (day / 20) ** 2 : 0.01)
const COMES = '2026-05-22T08:00:00Z'

const plan = (comes: string): ScenarioPlan => ({
  id: 'S36',
  title: 'Paper record the next morning',
  from: '2026-05-01',
  days: 24,
  points: { SW: { water: 1, grabs: { at: ['02:00', '08:00', '12:00', '20:00'] } } },
  analyzers: { 'SW-A': { reads: (truthNtu, t) => truthNtu + film(t) } },
  records: [{ kind: 'work', analyzer: 'SW-A', time: '2026-05-21T10:00:00Z', action: 'cleaned', comes }],
})
const said = runScenario(plan(COMES))
const onTime = runScenario(plan('2026-05-21T10:00:30Z'))
const before = said.events.filter(event => event.time < COMES)
const after = said.requests('SW-A').filter(event => event.time >= COMES)

describe('S36 Paper record the next morning', () => {
  test('must say: at 14:00, when the noon sample is in, it asks what was done at the drop', () => {
    const [asked, ...others] = said.suspects('work_record')
    expect(others).toEqual([])
    expect(asked?.time).toMatch(/^2026-05-21T14/)
    expect(asked?.data.at).toBe('2026-05-21T10:00:00Z')
    expect(asked?.data.ask).toMatch(/hand in the record of what was done, with its own time/)
  })
  test('must say: the open request becomes the proof of effect, because the record came late', () => {
    expect(after[0]?.type).toBe('recommendation.revised')
    expect(after[0]?.data.phase).toBe('awaiting_proof')
    expect(after[0]?.data.reason).toMatch(
      /record came late: cleaning of SW-A of 21 May 2026, 10:00 UTC, known since 22 May 2026, 08:0/,
    )
    expect(after.at(-1)?.type).toBe('recommendation.closed')
    expect(said.verdicts('SW-A').map(event => event.type)).toEqual(['work.confirmed'])
  })
  test('must say: the record is applied at 10:00, with the same end as on time', () => {
    const [verdict] = said.verdicts('SW-A')
    expect(verdict?.data.work.at).toBe('2026-05-21T10:00:00Z')
    expect(foldText(said.state)).toEqual(foldText(onTime.state))
  })
  test('must say: both facts stay in the history', () => {
    expect(said.explain('SW-A').work.map(one => [one.atMs, one.text])).toEqual([
      [Date.parse('2026-05-21T10:00:00Z'), expect.stringMatching(/^cleaned/)],
    ])
    expect(before.some(event => event.type === 'reference.suspect')).toBe(true)
  })
  test('must not say: earlier events edited, or two cleanings', () => {
    const without = runScenario({ ...plan(COMES), records: [] })
    expect(before).toEqual(without.events.filter(event => event.time < COMES))
    expect(new Set(said.events.map(event => event.id)).size).toBe(said.events.length)
    expect(said.state.points.get('SW')?.fold.units[0]?.cleaningsMs).toHaveLength(1)
  })
  holdsEverywhere(said)
})
