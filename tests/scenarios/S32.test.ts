import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** RW-A reads 13 % low from day 5 on; the span of 20 May takes it 7.9 % beyond, that of 24 May puts it right. */
const said = runScenario({
  id: 'S32',
  title: 'As left outside, yet accepted',
  from: '2026-05-01',
  days: 34,
  points: {
    RW: {
      water: ({ day }) => 40 + 18 * Math.sin(day / 2.1) + 4 * Math.sin(7 * day),
      grabs: { at: ['08:00', '20:00'] },
    },
  },
  analyzers: {
    'RW-A': {
      reads: (truthNtu, { day }) => truthNtu * (day < 5 ? 1 : day < 19.42 ? 0.87 : day < 23.42 ? 1.02 : 1),
    },
  },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'RW-A',
      time: '2026-05-20T10:00:00Z',
      action: 'span',
      reference: { type: 'secondary_standard', id: 'D-1014', assigned: 36.2 },
      asFound: 31.5,
      asLeft: 39.06,
      accepted: true,
    },
    {
      kind: 'work',
      id: 'W-2',
      analyzer: 'RW-A',
      time: '2026-05-24T10:00:00Z',
      action: 'span',
      reference: { type: 'secondary_standard', id: 'D-1014', assigned: 36.2 },
      asFound: 39.0,
      asLeft: 36.3,
      accepted: true,
    },
  ],
})

describe('S32 As left outside, yet accepted', () => {
  test('must say: as left is outside its limit, 7.9 %, though accepted', () => {
    const [suspect] = said.suspects('work_record')
    expect(suspect?.data.summary).toMatch(/as left 39\.06 NTU is 7\.9 % from 36\.2 NTU, limit 5 %, yet accepted/)
    expect(suspect?.data.summary).toMatch(/not done/)
  })
  test('must say: it stays open until the work is repeated', () => {
    expect(said.opened('RW-A')).toHaveLength(1)
    const after = said.requests('RW-A').filter(({ time }) => time > '2026-05-20T10' && time < '2026-05-24T10')
    expect(after.length).toBeGreaterThan(0)
    for (const { data } of after) expect(data.phase).toBe('open')
    expect(after.at(-1)?.data.summary).toMatch(/not done/)
  })
  test('must not say: closed as done, before the repeat is proven', () => {
    expect(said.verdicts('RW-A').filter(({ time }) => time < '2026-05-24T10')).toEqual([])
    const closed = said.ofType('recommendation.closed').filter(({ subject }) => subject === 'RW-A')
    expect(closed.map(({ data }) => data.outcome)).toEqual(['confirmed'])
    expect(closed[0]?.time ?? '').toMatch(/^2026-05-2[5-9]/)
  })
  holdsEverywhere(said)
})
