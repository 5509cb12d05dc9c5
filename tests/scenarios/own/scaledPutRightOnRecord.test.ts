import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const HALVED_MS = Date.parse('2026-05-10T02:10:00Z')
const MENDED_MS = Date.parse('2026-05-13T09:40:00Z')

/** Whoever puts a scaling right takes the unit out for the work, and the signal is gone for an hour. */
const visit = (time: string, action: string) => ({ kind: 'work', analyzer: 'FE1-A', time, action, id: `W ${time}` })

const said = runScenario({
  id: 'scaledPutRightOnRecord',
  title: 'A scaling put right by work on record',
  from: '2026-05-01',
  days: 22,
  points: { FE1: { water: 0.09, grabs: { at: ['01:30', '07:30', '13:30', '19:30'] } } },
  analyzers: {
    'FE1-A': {
      arrives: (shownNtu, { atMs }) => {
        if (atMs >= MENDED_MS - 3_600_000 && atMs < MENDED_MS) return undefined
        return atMs >= HALVED_MS && atMs < MENDED_MS ? shownNtu / 2 : shownNtu
      },
    },
  },
  records: [visit('2026-05-13T08:30:00Z', 'maintenance_on'), visit('2026-05-13T10:00:00Z', 'maintenance_off')],
})

describe('A scaling put right by work on record', () => {
  test('must say: the signal path, and its end once grab samples show the values at their scale', () => {
    expect(said.opened('FE1-A').map(({ action }) => action)).toEqual(['check_signal'])
    const last = said.requests('FE1-A').at(-1)
    expect(last?.type).toBe('recommendation.closed')
    expect(last?.data.reason).toMatch(/back at their scale/)
    expect(Date.parse(last?.time ?? '') - MENDED_MS).toBeLessThan(24 * 3_600_000)
  })
  test('must say: assessed again by what it shows', () => {
    expect(said.findings('exact_factor', 'FE1-A').map(({ data }) => data.phase)).toEqual(['began', 'ended'])
    expect(said.status('FE1-A').assessment).toBe('consistent')
  })
  test('must not say: over while it was still halved', () => {
    const ended = said.findings('exact_factor', 'FE1-A').find(({ data }) => data.phase === 'ended')
    expect(Date.parse(ended?.time ?? '')).toBeGreaterThan(MENDED_MS)
  })
  holdsEverywhere(said)
})
