import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const CLEANED = '2026-05-24T09:10:00Z'

const said = runScenario({
  id: 'S02',
  title: 'Creep upward that cleaning does not move',
  from: '2026-05-01',
  days: 28,
  points: { CFE: { water: 0.06, grabs: { at: ['00:30', '06:30', '12:30', '18:30'] } } },
  analyzers: { 'CFE-C': { reads: (truthNtu, { day }) => truthNtu + 0.003 * Math.max(0, day - 8) } },
  records: [
    {
      kind: 'work',
      analyzer: 'CFE-C',
      time: '2026-05-24T09:00:00Z',
      action: 'maintenance_on',
      id: 'w-1',
      visit: 'v-1',
    },
    { kind: 'work', analyzer: 'CFE-C', time: CLEANED, action: 'cleaned', id: 'w-2', visit: 'v-1', accepted: true },
    {
      kind: 'work',
      analyzer: 'CFE-C',
      time: '2026-05-24T09:30:00Z',
      action: 'maintenance_off',
      id: 'w-3',
      visit: 'v-1',
    },
  ],
})

const before = said.requests('CFE-C').filter(({ time }) => time < CLEANED)
const after = said.requests('CFE-C').filter(({ time, data }) => time > CLEANED && data.phase === 'open')

describe('S02 Creep upward that cleaning does not move', () => {
  test('must say: first clean, with film and zero drift both ranked, since telemetry alone cannot part them', () => {
    const [opened] = said.opened('CFE-C')
    expect(opened?.action).toBe('clean_then_verify')
    expect(opened?.cause.ranked.map(({ cause }) => cause)).toEqual(expect.arrayContaining(['fouling', 'zero_drift']))
    expect(opened?.cause.because.join('\n')).toMatch(/telemetry alone cannot part them/)
  })
  test('must say: after the cleaning not effective, zero drift, next zero', () => {
    expect(said.verdicts('CFE-C').map(({ type }) => type)).toEqual(['work.not_confirmed'])
    expect(after[0]?.data.action).toBe('zero')
    expect(after[0]?.data.cause.ranked[0]?.cause).toBe('zero_drift')
  })
  test('must not say: zero drift as certain before the cleaning, effective or a second cleaning after it', () => {
    for (const { data } of before) expect(data.cause.ranked[0]?.cause).not.toBe('zero_drift')
    expect(said.ofType('work.confirmed')).toEqual([])
    for (const { data } of after) expect(data.action).not.toBe('clean_then_verify')
  })
  holdsEverywhere(said)
})
