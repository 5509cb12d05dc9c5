import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** FE4-A reads 0.085 NTU high until its zero of 18 May. Two people type the record, one with a digit too many. */
const record = {
  kind: 'work',
  analyzer: 'FE4-A',
  time: '2026-05-18T10:00:00Z',
  id: 'W-17',
  action: 'zero',
  reference: { type: 'zero_water', assigned: 0.02 },
  asFound: 0.105,
  accepted: true,
}
const said = runScenario({
  id: 'twoTypists',
  title: 'The same work record typed by two people with other content',
  from: '2026-05-01',
  days: 24,
  points: { FE4: { water: 0.06, grabs: { at: ['02:00', '08:00', '14:00', '20:00'] } } },
  analyzers: {
    'FE4-A': { reads: (truthNtu, { day }) => truthNtu + (day > 6 && day < 17 + 10 / 24 ? 0.085 : 0) },
  },
  records: [
    { ...record, asLeft: 0.021, comes: '2026-05-18T16:00:00Z' },
    { ...record, asLeft: 0.21, comes: '2026-05-18T17:00:00Z' },
    { ...record, asLeft: 0.021, comes: '2026-05-19T07:00:00Z' },
  ],
})

describe('the same work record typed by two people with other content', () => {
  test('the second is refused, with what it differs in and what to do', () => {
    expect(said.ofType('message.rejected').map(({ data }) => [data.code, data.value, data.rule])).toEqual([
      ['conflict', 'other content (asLeft)', 'the record is known already; a correction must say what it corrects'],
    ])
  })
  test('the first counts, once, also when it is typed a third time', () => {
    expect(said.explain('FE4-A').work).toHaveLength(1)
    expect(said.suspects('work_record').filter(event => event.data.summary.includes('as left'))).toEqual([])
    expect(said.verdicts('FE4-A').map(event => event.type)).toEqual(['work.confirmed'])
    expect(said.requests('FE4-A').at(-1)?.type).toBe('recommendation.closed')
  })
  holdsEverywhere(said)
})
