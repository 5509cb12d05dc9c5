import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/** On the ninth morning RW has the bottle of SW, SW that of FE1, and FE1 that of RW. */
const instead = (ntu: number) => (readNtu: number, t: Moment) =>
  Math.floor(t.day) === 8 && t.hour < 12 ? ntu : readNtu

const said = runScenario({
  id: 'bottlesInARing',
  title: 'Bottles of three points exchanged in a ring',
  from: '2026-05-01',
  days: 12,
  points: {
    RW: { water: 20, grabs: { at: ['07:50', '19:50'], value: instead(1.2) } },
    SW: { water: 1.2, grabs: { at: ['08:00', '20:00'], value: instead(0.05) } },
    FE1: { water: 0.05, grabs: { at: ['08:10', '20:10'], value: instead(20.3) } },
  },
})

describe('Bottles of three points exchanged in a ring', () => {
  test('no exchange of two is claimed, for no two fit each other', () => {
    expect(said.text()).not.toMatch(/likely exchanged/)
    expect(said.suspects('grab').every(one => one.data.points === undefined)).toBe(true)
  })
  test('each bottle is suspect by itself and is not used', () => {
    expect(said.suspects('grab').map(one => one.data.sampleId)).toEqual(
      expect.arrayContaining(['RW-9-1', 'SW-9-1', 'FE1-9-1']),
    )
    for (const analyzer of ['RW-A', 'SW-A', 'FE1-A']) expect(said.explain(analyzer).excluded.suspect_grab).toBe(1)
  })
  test('no analyzer is blamed', () => {
    expect(said.opened()).toEqual([])
  })
  holdsEverywhere(said)
})
