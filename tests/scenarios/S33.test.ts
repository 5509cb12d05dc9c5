import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

const POURED = Date.parse('2026-05-12T10:57:00Z')
const isInStandard = ({ atMs }: Moment): boolean => atMs >= POURED && atMs < POURED + 10 * 60_000
const isInWork = ({ atMs }: Moment): boolean => atMs >= POURED - 17 * 60_000 && atMs < POURED + 20 * 60_000

/** CFE-B stands in its standard from 10:57 on and still sinks by 0.3 NTU a minute when it is accepted at 11:00. */
const said = runScenario({
  id: 'S33',
  title: 'Accepted while still moving',
  from: '2026-05-01',
  days: 18,
  intervalS: 30,
  points: { CFE: { water: 0.06 } },
  analyzers: {
    'CFE-B': {
      arrives: (shownNtu, t) =>
        isInStandard(t) ? 35 + 1.2 - (0.3 * (t.atMs - POURED)) / 60_000 : isInWork(t) ? 1 : shownNtu,
      fields: t => (isInStandard(t) ? { state: 'calibrating' } : isInWork(t) ? { state: 'maintenance' } : {}),
    },
  },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'CFE-B',
      time: '2026-05-12T11:00:00Z',
      action: 'span',
      reference: { type: 'secondary_standard', id: 'D-1002', assigned: 35.0 },
      asFound: 36.1,
      asLeft: 35.3,
      accepted: true,
    },
  ],
})

describe('S33 Accepted while still moving', () => {
  test('must say: accepted while unstable, with slope and limit; verify again after the bubbles are out', () => {
    const [suspect, ...others] = said.suspects()
    expect(others).toEqual([])
    expect(suspect?.data.summary).toMatch(/still fell 0\.3 NTU a minute, limit 0\.1[78] NTU a minute/)
    expect(suspect?.data.ask).toMatch(/bubbles are out, then verify again on D-1002/)
  })
  test('must not say: those readings used as process values', () => {
    const { blocks, excluded } = said.explain('CFE-B')
    expect(Math.max(...blocks.filter(one => one.usable).map(one => one.medianNtu))).toBeLessThan(0.2)
    expect(excluded.state_calibrating).toBe(20)
    expect(said.opened()).toEqual([])
  })
  test('must not say: effective', () => {
    expect(said.ofType('work.confirmed')).toEqual([])
    expect(said.verdicts('CFE-B').map(({ type }) => type)).toEqual(['work.undecided'])
  })
  holdsEverywhere(said)
})
