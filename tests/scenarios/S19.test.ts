import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario, type Said, type ScenarioPlan } from './support/scenario.js'

/** FE1 rests from 08:00 of the sixth day to 08:00 of the ninth; a quarter of an hour of backwash; ripening. */
const REST = 5 + 8 / 24
const WASH = 8 + 8 / 24
const RESTART = WASH + 15 / 1440
const USUAL = 0.055
const isResting = ({ day }: Moment): boolean => day >= REST && day < WASH
const isOut = ({ day }: Moment): boolean => day >= REST && day < RESTART + 2 / 24

/** A stagnant sample climbs to 0.4 NTU; the ripening peak of 0.9 NTU falls in 50 minutes. */
function water({ day }: Moment): number {
  if (day >= REST && day < WASH) return USUAL + (0.345 * (day - REST)) / (WASH - REST)
  if (day >= WASH && day < RESTART) return 0.5
  const minutes = (day - RESTART) * 1440
  return minutes >= 0 && minutes < 50 ? USUAL + 0.845 * (1 - minutes / 50) : USUAL
}

/** Nobody takes a sample of a filter that rests. */
const plan: ScenarioPlan = {
  id: 'S19',
  title: 'Filter off line and restart',
  from: '2026-05-01',
  days: 14,
  points: {
    FE1: { water, grabs: { at: ['08:20', '20:20'], value: (ntu, t) => (isOut(t) ? undefined : ntu) } },
    FE2: { water: 0.06 },
  },
}

function blamesNothing(said: Said): void {
  test('must not say: fouling, drift or out of range, nor a filter problem as one of the analyzer', () => {
    expect(said.opened()).toEqual([])
    expect(said.suspects()).toEqual([])
    expect(said.findings('beyond_range')).toEqual([])
    expect(said.text()).not.toMatch(/fouling|a film|drift|"doubtful"/)
    expect(said.status('FE1-A').assessment).toBe('consistent')
    expect(Math.abs(said.status('FE1-A').bias?.ntu ?? 1)).toBeLessThan(0.02)
  })
}

/** Hours of readings every five minutes. */
const readings = (hours: number): number => 12 * hours

describe('S19 Filter off line and restart', () => {
  const process = (time: string, state: string): { kind: string; point: string; time: string; state: string } => {
    return { kind: 'process', point: 'FE1', time, state }
  }
  const said = runScenario({
    ...plan,
    records: [
      process('2026-05-01T00:10:00Z', 'in_service'),
      process('2026-05-06T08:00:00Z', 'off_line'),
      process('2026-05-09T08:00:00Z', 'backwash'),
      process('2026-05-09T08:15:00Z', 'in_service'),
    ],
  })

  test('must say: the hours left out of detection, with the reason', () => {
    const { not_in_service = 0, bubble = 0, not_in_service_inferred } = said.explain('FE1-A').excluded
    expect(not_in_service + bubble).toBeGreaterThanOrEqual(readings(73.25))
    expect(not_in_service_inferred).toBeUndefined()
    expect(said.findings()).toEqual([])
  })
  blamesNothing(said)
  holdsEverywhere(said)
})

describe('S19 Filter off line and restart, no process states, sample flow on record', () => {
  const said = runScenario({
    ...plan,
    id: 'S19-flow',
    analyzers: { 'FE1-A': { fields: t => ({ flowLMin: isResting(t) ? 0 : 1 }) } },
  })
  const [began, ended, ...more] = said.findings('not_in_service_inferred', 'FE1')

  test('must say: inferred, and from what', () => {
    expect(began?.data.detail.inferredFrom).toBe('level and flow')
    expect(began?.data.summary).toMatch(/inferred at rest since .* climbing without sample flow \(usual 0\.05\d? NTU\)/)
    expect(said.status('FE1-A', '2026-05-08T12:00:00Z').notes?.join()).toMatch(/inferred out of service/)
    expect(ended?.data.summary).toMatch(/back in service after \d\d\.\d h, inferred/)
    expect(more).toEqual([])
  })
  test('must say: the hours left out of detection, with the reason', () => {
    const { no_flow = 0, settling = 0, not_in_service_inferred = 0 } = said.explain('FE1-A').excluded
    expect(no_flow).toBe(readings(72))
    expect(settling + not_in_service_inferred).toBeGreaterThanOrEqual(readings(1.5))
  })
  blamesNothing(said)
  holdsEverywhere(said)
})

describe('S19 Filter off line and restart, no process states, level only', () => {
  const said = runScenario({ ...plan, id: 'S19-level' })
  const [began, ended, ...more] = said.findings('not_in_service_inferred', 'FE1')

  test('must say: inferred, and from what; and how long it had stood above its usual level before', () => {
    expect(began?.time.slice(0, 13)).toBe('2026-05-09T08')
    expect(began?.data.detail).toMatchObject({ inferredFrom: 'level' })
    expect(String(began?.data.detail.aboveUsualSince).slice(0, 10)).toMatch(/2026-05-0[67]/)
    expect(began?.data.summary).toMatch(/inferred restarting since 9 May 2026, 08:\d\d UTC.*above usual since/)
    expect(ended?.data.summary).toMatch(/back in service after \d\.\d h, inferred: the peak of 0\.\d+ NTU/)
    expect(more).toEqual([])
  })
  test('must say: the hours left out of detection, with the reason', () => {
    expect(said.explain('FE1-A').excluded.not_in_service_inferred ?? 0).toBeGreaterThanOrEqual(readings(1.75))
    const restart = said
      .explain('FE1-A')
      .blocks.filter(
        one => one.endMs > Date.parse('2026-05-09T08:30:00Z') && one.endMs <= Date.parse('2026-05-09T09:45:00Z'),
      )
    expect(restart.map(one => one.usable)).toEqual([false, false, false, false, false])
  })
  blamesNothing(said)
  holdsEverywhere(said)
})
