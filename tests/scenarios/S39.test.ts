import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

/** FE3-B drifts from day 4 on and is taken away on 20 May; the new instrument reads 0.015 NTU high, which is normal. */
const said = runScenario({
  id: 'S39',
  title: 'Analyzer exchanged in the middle',
  from: '2026-05-01',
  days: 40,
  points: { FE3: { water: 0.08, grabs: { at: ['07:30', '19:30'] } } },
  analyzers: {
    'FE3-B': {
      reads: (truthNtu, { day }) => truthNtu + (day < 19.42 ? -0.004 * Math.max(0, day - 4) : 0.008),
    },
  },
  records: [
    {
      kind: 'work',
      id: 'W-1',
      analyzer: 'FE3-B',
      time: '2026-05-20T10:00:00Z',
      action: 'replaced',
      serial: 'A-2299',
      accepted: true,
    },
  ],
})

describe('S39 Analyzer exchanged in the middle', () => {
  test('must say: the open item closes as replaced, with both serials; the new unit learns, and what it lacks', () => {
    expect(said.opened('FE3-B')).toHaveLength(1)
    const [closed] = said.ofType('recommendation.closed').filter(({ subject }) => subject === 'FE3-B')
    expect(closed?.data.reason).toMatch(/was replaced on 20 May 2026, 10:00 UTC \(serial A-2299 in place of A-2213\)/)
    expect(closed?.data.reason).toMatch(/learning and needs 3 grab samples and a standard assigned on it/)
    const status = said.status('FE3-B', '2026-05-20T16:00:00Z')
    expect(status.assessment).toBe('not_assessed')
    expect(status.missing.join(' ')).toMatch(/3 more grabs or a verification/)
  })
  test('must say: the old history stays with the old serial', () => {
    const { work, serial } = said.explain('FE3-B')
    expect(serial).toBe('A-2299')
    expect(work.at(-1)?.text).toMatch(/replaced \(W-1\), serial A-2299/)
  })
  test('must say: the standard bound to the old unit is no longer valid', () => {
    const [suspect] = said.suspects('standard')
    expect(suspect?.data).toMatchObject({ analyzer: 'FE3-B', standard: 'D-1007' })
    expect(suspect?.data.summary).toMatch(/assigned on serial A-2213.*no longer holds.*serial A-2299/)
  })
  test('must not say: drift continued across the exchange', () => {
    const after = said.text('2026-05-20T12:00:00Z')
    expect(after).not.toMatch(/reads 0\.\d+ NTU low/)
    expect(said.status('FE3-B').assessment).toBe('consistent')
    expect(said.opened('FE3-B')).toHaveLength(1)
  })
  test('must not say: the exchange counted as a calibration success', () => {
    expect(said.verdicts('FE3-B')).toEqual([])
    expect([...said.state.published.scorecard.values()]).toEqual([])
  })
  holdsEverywhere(said)
})
