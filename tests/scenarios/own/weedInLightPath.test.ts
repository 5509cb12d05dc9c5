import { describe, expect, test } from 'vitest'
import { HOUR_MS } from '../../../src/model/time.js'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const BEGAN = Date.parse('2026-05-12T22:00:00Z')
const OVER = Date.parse('2026-05-13T07:00:00Z')

/** For nine hours of a night something moves to and fro in the light path of SW-A; the water is as calm as ever. */
const said = runScenario({
  id: 'weedInLightPath',
  title: 'Something moves in the light path',
  from: '2026-05-01',
  days: 14,
  points: { SW: { water: 1.4 } },
  analyzers: {
    'SW-A': {
      arrives: (shownNtu, { atMs }) =>
        atMs >= BEGAN && atMs < OVER && Math.floor(atMs / (20 * 60_000)) % 2 === 0 ? shownNtu * 4 : shownNtu,
    },
  },
})

describe('something moves in the light path', () => {
  test('must say: the reading jumps up and down, within half a shift, and that it is over', () => {
    const [began, ended] = said.findings('erratic', 'SW-A')
    expect(began?.data.summary).toMatch(/jumps up and down by more than [\d.]+ NTU/)
    expect(Date.parse(began?.time ?? '') - BEGAN).toBeLessThanOrEqual(4 * HOUR_MS)
    expect(Date.parse(began?.data.since ?? '')).toBeGreaterThanOrEqual(BEGAN)
    expect(ended?.data.phase).toBe('ended')
    expect(Date.parse(ended?.time ?? '') - OVER).toBeLessThanOrEqual(4 * HOUR_MS)
    expect(said.findings('erratic')).toHaveLength(2)
  })
  test('must not say: anything to be done to the calibration, or that the process changed', () => {
    expect(said.requests()).toEqual([])
    expect(said.findings('process_change')).toEqual([])
  })
  holdsEverywhere(said)
})
