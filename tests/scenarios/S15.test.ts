import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** Runs of forty equal minutes at night: water so quiet that the last digit hardly moves. */
const quiet = ({ day }: Moment): number => (Math.floor(day * 36) % 2 === 0 ? 0.021 : 0.022)

const said = runScenario({
  id: 'S15',
  title: 'Very quiet water is not stuck',
  from: '2026-05-01',
  days: 12,
  intervalS: 60,
  points: { FE1: { water: 0.021, grabs: { at: ['08:20'] } } },
  analyzers: { 'FE1-A': { noiseNtu: 0, reads: (_, t) => quiet(t), arrives: (_, t) => quiet(t) } },
})

describe('S15 Very quiet water is not stuck', () => {
  test('must say: nothing; the status goes by the grab samples', () => {
    expect(said.opened()).toEqual([])
    expect(said.findings()).toEqual([])
    expect(said.status('FE1-A').assessment).toBe('consistent')
  })
  test('must say: status shows that quantised readings are provided for', () => {
    expect(said.status('FE1-A').notes?.join()).toMatch(/quantised readings.*9\d % repeat.*steps of 0\.001 NTU/)
    expect(said.explain('FE1-A').status.notes).toEqual(said.status('FE1-A').notes)
  })
  test('must not say: stuck', () => {
    expect(said.text()).not.toMatch(/stuck/)
    expect(said.explain('FE1-A').excluded.stuck).toBeUndefined()
  })
  test('must not say: too small a spread, or a false signal from ties', () => {
    const used = said.explain('FE1-A').grabs.filter(one => one.use === 'used')
    expect(used.length).toBeGreaterThan(8)
    // No less than the laboratory's 0.01 NTU, however equal the readings.
    for (const { uNtu } of used) expect(uNtu).toBeGreaterThanOrEqual(0.01)
    expect(said.explain('FE1-A').excluded.bubble ?? 0).toBe(0)
  })
  holdsEverywhere(said)
})
