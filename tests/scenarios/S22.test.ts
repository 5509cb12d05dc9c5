import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** On the ninth day the two bottles of the morning have each other's label. */
const exchanged = (own: (readNtu: number) => number) => (readNtu: number, t: Moment) =>
  Math.floor(t.day) === 8 && t.hour < 12 ? own(readNtu) : readNtu

const said = runScenario({
  id: 'S22',
  title: 'Swapped bottles',
  from: '2026-05-01',
  days: 12,
  points: {
    SW: { water: 1.2, grabs: { at: ['08:00', '20:00'], value: exchanged(() => 0.05) } },
    FE1: { water: 0.05, grabs: { at: ['08:10', '20:10'], value: exchanged(() => 1.21) } },
    FE2: { water: 0.06, grabs: { at: ['08:20', '20:20'] } },
    CFE: { water: 0.06, grabs: { at: ['08:30', '20:30'] } },
  },
})

describe('S22 Swapped bottles', () => {
  const [exchange] = said.suspects('grab')

  test('must say: both suspect, likely exchanged, both sample ids, ask the laboratory', () => {
    expect(said.suspects('grab')).toHaveLength(1)
    expect(exchange?.data.points).toEqual(['FE1', 'SW'])
    expect(exchange?.data.sampleIds).toEqual(['FE1-9-1', 'SW-9-1'])
    expect(exchange?.data.summary).toMatch(/FE1-9-1 and SW-9-1 .*likely exchanged/)
    expect(exchange?.data.summary).toMatch(/ask the laboratory/)
    expect(exchange?.time.slice(0, 13)).toBe('2026-05-09T10')
  })
  test('must say: neither pair is used, with the reason', () => {
    for (const analyzer of ['SW-A', 'FE1-A']) {
      const { grabs, excluded } = said.explain(analyzer)
      expect(grabs.find(one => one.sampleId?.endsWith('-9-1'))?.use).toBe('exchanged_bottle')
      expect(excluded.exchanged_bottle).toBe(1)
    }
  })
  test('must not say: a bias at SW-A or FE1-A, or values that were moved', () => {
    expect(said.opened()).toEqual([])
    expect(said.status('SW-A').assessment).toBe('consistent')
    expect(said.status('FE1-A').assessment).toBe('consistent')
    expect(said.explain('SW-A').grabs.find(one => one.sampleId === 'SW-9-1')?.grabNtu).toBe(0.05)
    expect(said.explain('FE1-A').grabs.find(one => one.sampleId === 'FE1-9-1')?.grabNtu).toBe(1.21)
  })
  holdsEverywhere(said)
})
