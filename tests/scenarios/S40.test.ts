import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** RW-A is right. The bottle is filled at another tap since day 6, where the water is 14 % more turbid. */
const said = runScenario({
  id: 'S40',
  title: 'Found within limits after a recommendation',
  from: '2026-05-01',
  days: 34,
  points: {
    RW: {
      water: ({ day }) => 40 + 18 * Math.sin(day / 2.1) + 4 * Math.sin(7 * day),
      grabs: { at: ['08:00', '20:00'], value: (readNtu, { day }) => readNtu * (day < 6 ? 1 : 1.16) },
    },
  },
  register: register => {
    const analyzers = register.points.RW?.analyzers
    if (analyzers !== undefined) delete analyzers['RW-B']
    register.standards = (register.standards ?? []).filter(one => one.analyzer !== 'RW-B')
  },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'RW-A',
      time: '2026-05-21T10:00:00Z',
      action: 'verified',
      reference: { type: 'secondary_standard', id: 'D-1014', assigned: 36.2 },
      asFound: 36.5,
      accepted: true,
    },
  ],
})

describe('S40 Found within limits after a recommendation', () => {
  const closed = () => said.ofType('recommendation.closed').filter(({ subject }) => subject === 'RW-A')

  test('must say: found within limits, 0.8 % off, limit 5 %; not confirmed', () => {
    expect(said.opened('RW-A')[0]?.action).toMatch(/span|verify/)
    const [end] = closed()
    expect(end?.time).toBe('2026-05-21T10:17:00Z')
    expect(end?.data.outcome).toBe('found_within_limits')
    expect(end?.data.reason).toMatch(/as found 36\.5 NTU on D-1014 of 36\.2 NTU, 0\.8 % off, limit 5 %/)
  })
  test('must say: which evidence misled', () => {
    expect(closed()[0]?.data.reason).toMatch(/the grab samples misled/)
  })
  test('must say: counted so in the track record', () => {
    const rows = said.explain('RW-A').trackRecord ?? []
    expect(rows.map(({ class: name, line }) => [name, line])).toEqual([['raw', 'grab']])
    expect(rows[0]?.outcomes).toEqual({ confirmed: 0, not_confirmed: 0, found_within_limits: 1, undecided: 0 })
  })
  test('must not say: confirmed', () => {
    expect(said.ofType('work.confirmed')).toEqual([])
  })
  test('must not say: the same evidence reopening at once', () => {
    const again = said.requests('RW-A').filter(({ time }) => time > '2026-05-21T10:18' && time < '2026-06-03')
    expect(again).toEqual([])
  })
  test('must not say: blame of a person', () => {
    expect(said.text()).not.toMatch(/\b(operator|technician|somebody|careless)\b/i)
  })
  holdsEverywhere(said)
})
