import { describe, expect, test } from 'vitest'
import { HOUR_MS } from '../../../src/model/time.js'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** At noon of the eighth day a gateway sets its clock back an hour: what comes from then on is dated an hour early. */
const JUMP_MS = Date.parse('2026-05-08T12:00:00Z')

const said = runScenario({
  id: 'gatewayClockBack',
  title: 'A gateway sets its clock back an hour and right again after a day',
  from: '2026-05-01',
  days: 12,
  points: { FE1: { water: 0.05 }, FE3: { water: 0.07 } },
  analyzers: {
    'FE1-A': {
      fields: ({ atMs }) =>
        atMs >= JUMP_MS && atMs < JUMP_MS + 24 * HOUR_MS
          ? { time: new Date(atMs - HOUR_MS).toISOString().replace(/\.\d+Z/, 'Z') }
          : {},
    },
  },
})

describe('a gateway whose clock jumps back an hour', () => {
  test('readings dated into blocks that are closed are counted late, none is taken twice', () => {
    const { late = 0, conflict = 0, repeat = 0 } = said.explain('FE1-A').excluded
    expect(late).toBeGreaterThanOrEqual(12)
    expect(late + conflict + repeat).toBeLessThanOrEqual(14)
    expect(said.refused).toEqual([])
  })
  test('the hour in which nothing of the present came is silence, and no more than that', () => {
    const findings = said.findings()
    expect(new Set(findings.map(one => `${one.subject} ${one.data.finding}`))).toEqual(new Set(['FE1-A silent']))
    expect(said.opened()).toEqual([])
    expect(said.suspects()).toEqual([])
  })
  test('the shift summaries say how old the readings are that come', () => {
    const night = said.ofType('shift.summary').find(one => one.time > '2026-05-09T00:00:00Z')
    expect(night?.data.findings.map(one => one.summary).join()).toMatch(/those that come are 1\.\d h old/)
  })
  test('sound units beside it know nothing of it', () => {
    expect(said.explain('FE3-A').excluded.late).toBeUndefined()
    expect(said.status('FE1-A').assessment).toBe('consistent')
  })
  holdsEverywhere(said)
})
