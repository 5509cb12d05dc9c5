import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario, type ScenarioPlan } from './support/scenario.js'

const BACK_HOUR = 10

/** From so much above the water at ten down to the water. */
function sinking(untilHour: number, fromNtu: number): (truthNtu: number, t: Moment) => number {
  return (truthNtu, { day, hour }) => {
    if (Math.floor(day) !== 6 || hour < BACK_HOUR || hour >= untilHour) return truthNtu
    return truthNtu + (fromNtu * (untilHour - hour)) / (untilHour - BACK_HOUR)
  }
}

function plan(id: string, untilHour: number, fromNtu = 0.24): ScenarioPlan {
  return {
    id,
    title: 'Back in service unsettled',
    from: '2026-05-01',
    days: 10,
    points: { CFE: { water: 0.06 } },
    analyzers: { 'CFE-C': { reads: sinking(untilHour, fromNtu) } },
    records: [
      { kind: 'work', analyzer: 'CFE-C', time: '2026-05-07T09:00:00Z', action: 'maintenance_on', id: 'W-1' },
      { kind: 'work', analyzer: 'CFE-C', time: '2026-05-07T10:00:00Z', action: 'maintenance_off', id: 'W-2' },
    ],
  }
}

describe('S34 Back in service unsettled', () => {
  const said = runScenario(plan('S34', 13))
  const [began, ended] = said.findings('returned_unsettled', 'CFE-C')

  test('must say: returned before settled; counted from about 13:00', () => {
    expect(began?.data.phase).toBe('began')
    expect(began?.data.since).toBe('2026-05-07T10:00:00Z')
    expect(began?.data.summary).toMatch(/put back on 7 May 2026, 10:00 UTC before it had settled, falling 0\.\d+ NTU/)
    expect(ended?.data.summary).toMatch(
      /stands still at 0\.0[56]\d? NTU since 7 May 2026, 1[23]:\d\d UTC and is counted from 7 May 2026, 13:\d\d UTC/,
    )
    const { stillSince, countedFrom } = ended?.data.detail ?? {}
    expect(Math.abs(Date.parse(String(stillSince)) - Date.parse('2026-05-07T13:00:00Z'))).toBeLessThanOrEqual(
      15 * 60_000,
    )
    expect(String(countedFrom) <= '2026-05-07T13:30:00Z').toBe(true)
  })
  test('must not say: reads high', () => {
    expect(said.opened()).toEqual([])
    expect(said.findings('gross_difference')).toEqual([])
    expect(said.text()).not.toMatch(/reads [\d.]+ NTU high/)
  })
  test('must not say: a fixed waiting time; a visit after which it stands still counts within the hour', () => {
    const quick = runScenario(plan('S34', BACK_HOUR))
    expect(quick.findings()).toEqual([])
    expect(quick.explain('CFE-C').excluded.settling ?? 0).toBeLessThanOrEqual(9)
  })
  holdsEverywhere(said)
})

describe('S34 Back in service unsettled, up to the cap', () => {
  const said = runScenario(plan('S34-cap', 18, 0.6))

  test('must say: did not settle', () => {
    const [began] = said.findings('did_not_settle', 'CFE-C')
    expect(began?.data.summary).toMatch(/did not settle within 6\.0 h after the work, falling 0\.\d+ NTU an hour/)
    const [, ended] = said.findings('returned_unsettled', 'CFE-C')
    expect(ended?.data.summary).not.toMatch(/counted from/)
    expect(said.opened()).toEqual([])
  })
  holdsEverywhere(said)
})
