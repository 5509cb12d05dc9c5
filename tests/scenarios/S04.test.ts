import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const BEGAN_DAY = 10

/** River between 15 and 90 NTU over some days. */
const riverNtu = (day: number) => 45 + 30 * Math.sin(day / 1.7) + 12 * Math.sin(day / 0.6)
/** From 100 to 82 % in five weeks. */
const lightPct = (day: number) => 100 - (18 * Math.max(0, day - BEGAN_DAY)) / 35

const said = runScenario({
  id: 'S04',
  title: 'Gain lost as the light source ages',
  from: '2026-05-01',
  days: 45,
  points: { RW: { water: ({ day }) => Math.max(15, riverNtu(day)), grabs: { at: ['10:00'] } } },
  analyzers: {
    'RW-A': { fields: () => ({ lightSourcePct: 98 }) },
    'RW-B': {
      reads: (truthNtu, { day }) => truthNtu * (1 - 0.005 * Math.max(0, day - BEGAN_DAY)),
      fields: ({ day }) => ({ lightSourcePct: Math.round(10 * lightPct(day)) / 10 }),
    },
  },
})

describe('S04 Gain lost as the light source ages', () => {
  test('must say: a span error, low, ageing first', () => {
    const [opened] = said.opened('RW-B')
    expect(opened?.cause.ranked[0]?.cause).toBe('source_ageing')
    expect(opened?.bias?.ntu).toBeLessThan(0)
    const last = said.requests('RW-B').at(-1)?.data
    expect(last?.model?.spanRel.ci95[1]).toBeLessThan(0)
    expect(last?.cause.because.join('\n')).toMatch(/light source has lost \d+ %/)
  })
  test('must say: light source work, then primary calibration and a newly assigned secondary standard', () => {
    const [opened] = said.opened('RW-B')
    expect(opened?.action).toMatch(/^(inspect|span|zero_and_span|calibrate_primary)$/)
    const steps = opened?.procedure.steps.join('\n') ?? ''
    expect(steps).toMatch(/new light source calls for a primary calibration/i)
    expect(steps).toMatch(/assign the secondary standard anew/i)
  })
  test('must not say: zero drift first, or a bias without the level it applies to', () => {
    for (const { data } of said.requests('RW-B')) {
      expect(data.cause.ranked.find(({ cause }) => cause !== 'undecided')?.cause).not.toBe('zero_drift')
      expect(data.bias?.atLevelNtu).toBeGreaterThan(10)
      expect(data.summary).toMatch(/NTU low at [\d.]+ NTU/)
    }
    expect(said.opened('RW-A')).toEqual([])
  })
  holdsEverywhere(said)
})
