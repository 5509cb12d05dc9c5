import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** Shut at ten, found at sixteen of the seventh day. */
const SHUT = 6 + 10 / 24
const OPENED = 6 + 16 / 24
const isShut = ({ day }: Moment): boolean => day >= SHUT && day < OPENED

/** Particles settle while the valve is shut; what lay in the line comes through when it is opened. */
function shows(truthNtu: number, t: Moment): number {
  if (isShut(t)) return truthNtu - (0.06 * (t.day - SHUT)) / (OPENED - SHUT)
  const minutes = (t.day - OPENED) * 1440
  return minutes >= 0 && minutes < 45 ? truthNtu + 0.2 * (1 - minutes / 45) : truthNtu
}

const said = runScenario({
  id: 'S16',
  title: 'No sample flow',
  from: '2026-05-01',
  days: 12,
  points: { FE6: { water: 0.09, grabs: { at: ['08:20', '12:20', '20:20'] } } },
  analyzers: { 'FE6-A': { reads: shows, fields: t => ({ flowLMin: isShut(t) ? 0 : 1 }) } },
})

describe('S16 No sample flow', () => {
  const [began, ended] = said.findings('no_flow', 'FE6-A')

  test('must say: no flow, since when, readings not usable; restore it by site procedure, settle before use', () => {
    expect(began?.data.since.slice(0, 16)).toBe('2026-05-07T10:00')
    expect(began?.data.summary).toMatch(/no sample flow for 1\.0 h.*do not count.*site procedure.*settle before use/)
    expect(said.status('FE6-A', '2026-05-07T15:30:00Z').assessment).toBe('signal_fault')
    expect(ended?.data.phase).toBe('ended')
  })
  test('must say: its readings count again only when they stand still', () => {
    const { excluded } = said.explain('FE6-A')
    expect(excluded.no_flow).toBe(72)
    expect(excluded.settling ?? 0).toBeGreaterThanOrEqual(6)
    expect(said.status('FE6-A', '2026-05-07T16:20:00Z').notes?.join()).toMatch(/sample flow back/)
  })
  test('must not say: better water or low drift, nor use those hours', () => {
    expect(said.opened()).toEqual([])
    const noon = said.explain('FE6-A').grabs.find(one => one.atMs === Date.parse('2026-05-07T12:20:00Z'))
    expect(noon?.use).toBe('no_usable_reading')
    expect(said.findings('not_in_service_inferred')).toEqual([])
  })
  test('a flow of nothing counts though the register names no least flow', () => {
    expect(said.state.register?.plant.analyzers.get('FE6-A')?.minFlowLMin).toBeUndefined()
  })
  holdsEverywhere(said)
})
