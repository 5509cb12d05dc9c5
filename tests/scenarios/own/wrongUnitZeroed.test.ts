import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** 0.09 NTU too high until it is zeroed on the right day; the wrong unit was zeroed two days before. */
const said = runScenario({
  id: 'wrongUnitZeroed',
  title: 'The crew zeroed the sound unit of the pair by mistake',
  from: '2026-05-01',
  days: 34,
  points: { FE3: { water: 0.08, grabs: { at: ['07:30', '19:30'] } } },
  analyzers: {
    'FE3-B': {
      reads: (truthNtu, { day }) => truthNtu + (day > 8 && day < 22.4 ? 0.09 : 0),
    },
  },
  records: [
    {
      kind: 'work',
      analyzer: 'FE3-A',
      time: '2026-05-17T09:00:00Z',
      action: 'zero',
      asFound: 0.001,
      asLeft: 0,
      accepted: true,
      id: 'v-1',
      reference: { type: 'zero_water', assigned: 0 },
    },
    {
      kind: 'work',
      analyzer: 'FE3-B',
      time: '2026-05-23T09:30:00Z',
      action: 'zero',
      asFound: 0.09,
      asLeft: 0,
      accepted: true,
      id: 'v-2',
      reference: { type: 'zero_water', assigned: 0 },
    },
  ],
})

describe(said.plan.title, () => {
  test('must say: FE3-B reads high, still after the other one was zeroed', () => {
    const requests = said.requests('FE3-B')
    expect(requests[0]?.type).toBe('recommendation.opened')
    const between = requests.filter(one => one.time > '2026-05-17T09' && one.time < '2026-05-23')
    expect(between.some(one => /closed|withdrawn/.test(one.type))).toBe(false)
  })
  test('must say: the zero of FE3-B helped', () => {
    expect(said.verdicts('FE3-B').map(one => one.type)).toEqual(['work.confirmed'])
  })
  test('must not say: anything against FE3-A', () => {
    expect(said.opened('FE3-A')).toEqual([])
    expect(said.verdicts('FE3-A').some(one => one.type === 'work.not_confirmed')).toBe(false)
  })
  holdsEverywhere(said)
})
