import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const maintenance = (analyzer: string, from: string, until: string) =>
  [
    ['maintenance_on', from],
    ['maintenance_off', until],
  ].map(([action, time]) => ({ kind: 'work', analyzer, action, time }))

/** FE3-A has sent nothing since the evening of 6 May; on 8 May FE3-B is taken out too. Later both are in order. */
const said = runScenario({
  id: 'onlyUnitTakenOut',
  title: 'The only usable unit of a point is taken out',
  from: '2026-05-01',
  days: 13,
  points: { FE3: { water: 0.08 } },
  analyzers: {
    'FE3-A': { arrives: (shownNtu, { day }) => (day > 5.8 && day < 8.5 ? undefined : shownNtu) },
  },
  records: [
    ...maintenance('FE3-B', '2026-05-08T10:00:00Z', '2026-05-08T11:00:00Z'),
    ...maintenance('FE3-B', '2026-05-12T10:00:00Z', '2026-05-12T11:00:00Z'),
  ],
})

describe('the only usable unit of a point is taken out', () => {
  test('must say: which unit, why the other does not stand in, and sample by hand by the local rule', () => {
    const [suspect, ...others] = said.suspects('work_record')
    expect(others).toEqual([])
    expect(suspect?.data).toMatchObject({ analyzer: 'FE3-B', point: 'FE3', at: '2026-05-08T10:00:00Z' })
    expect(suspect?.data.summary).toMatch(/only usable unit of FE3; FE3-A silent: sample by hand as the local rule/)
  })
  test('must not say: the same where the other unit stands in', () => {
    expect(said.text('2026-05-12T09:00:00Z')).not.toMatch(/only usable unit/)
    expect(said.opened().filter(({ action }) => action !== 'check_signal')).toEqual([])
  })
  holdsEverywhere(said)
})
