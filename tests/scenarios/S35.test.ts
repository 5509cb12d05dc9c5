import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario, type Said, type ScenarioPlan } from './support/scenario.js'

/** 1 May 2026 is a Friday; set at 15:00, ended on Monday at 08:00. */
const isFlagged = ({ day }: Moment): boolean => day >= 15 / 24 && day < 3 + 8 / 24

const plan: ScenarioPlan = {
  id: 'S35',
  title: 'Forgotten maintenance flag',
  from: '2026-05-01',
  days: 5,
  points: { FE1: { water: 0.06 } },
  analyzers: { 'FE1-A': { fields: t => (isFlagged(t) ? { state: 'maintenance' } : {}) } },
  records: [
    { kind: 'work', analyzer: 'FE1-A', time: '2026-05-01T15:00:00Z', action: 'maintenance_on' },
    { kind: 'work', analyzer: 'FE1-A', time: '2026-05-04T08:00:00Z', action: 'maintenance_off' },
  ],
}

/** What the shift summaries said of it, with its age. */
function inSummaries(said: Said): { time: string; hours: number; summary: string }[] {
  return said
    .ofType('shift.summary')
    .flatMap(({ time, data }) =>
      data.findings.flatMap(({ finding, hours, summary }) =>
        finding === 'maintenance_forgotten' ? [{ time, hours, summary }] : [],
      ),
    )
}

describe('S35 Forgotten maintenance flag', () => {
  const said = runScenario(plan)

  test('must say: after the set hours, once: still in maintenance, not watched, since when', () => {
    const [began, ended, ...more] = said.findings('maintenance_forgotten')
    expect(began?.time.slice(0, 13)).toBe('2026-05-01T23')
    expect(began?.data.summary).toMatch(/still in maintenance for 8\.\d h, since 1 May 2026, 15:00 UTC.*not watched/)
    expect([began?.data.phase, ended?.data.phase, more.length]).toEqual(['began', 'ended', 0])
  })
  test('must say: then in each shift summary, with its age', () => {
    const summaries = inSummaries(said)
    // 06:00, 14:00 and 22:00 local time from Saturday morning to Monday morning.
    expect(summaries).toHaveLength(7)
    for (const { summary } of summaries) expect(summary).toMatch(/not watched/)
    const hours = summaries.map(one => one.hours)
    expect(hours).toEqual([...hours].sort((a, b) => a - b))
    expect(hours.at(-1)).toBeGreaterThan(60)
    expect(said.ofType('shift.summary').find(one => one.time > '2026-05-03')?.data.summary).toMatch(
      /longest: FE1-A, maintenance was never ended, for \d+\.\d h/,
    )
  })
  test('must not say: nothing until Monday; nor are the readings counted in silence', () => {
    expect(said.explain('FE1-A').excluded.state_maintenance).toBe(65 * 12)
    expect(said.status('FE1-A', '2026-05-03T12:00:00Z').assessment).toBe('not_assessed')
    expect(said.opened()).toEqual([])
  })
  holdsEverywhere(said)
})

describe('S35 Forgotten maintenance flag, without a record', () => {
  const said = runScenario({ ...plan, id: 'S35-state', records: [] })

  test('maintenance is inferred from the state of the readings, and says so', () => {
    const [began] = said.findings('maintenance_forgotten')
    expect(began?.data.detail.source).toBe('state of the readings')
    expect(began?.data.summary).toMatch(/inferred from its readings' state, no record came/)
    expect(said.status('FE1-A', '2026-05-01T18:00:00Z').notes?.join()).toMatch(
      /maintenance inferred from the state of its readings since 1 May 2026, 15:00 UTC/,
    )
    expect(inSummaries(said)).toHaveLength(7)
  })
  holdsEverywhere(said)
})
