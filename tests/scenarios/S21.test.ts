import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const said = runScenario({
  id: 'S21',
  title: 'One bad grab',
  from: '2026-05-01',
  days: 10,
  points: {
    CFE: {
      water: 0.06,
      grabs: {
        at: ['02:10', '08:10', '14:10', '20:10'],
        value: (readNtu, { day, hour }) => (Math.floor(day) === 6 && Math.floor(hour) === 14 ? 0.41 : readNtu),
      },
    },
  },
})

describe('S21 One bad grab', () => {
  const [suspect, refuted, ...more] = said.suspects('grab')

  test('must say: suspect, with sample id and why, and please repeat', () => {
    expect(more).toEqual([])
    expect(suspect?.data.sampleId).toBe('CFE-7-3')
    expect(suspect?.data.summary).toMatch(/CFE-7-3 .*0\.41 NTU .*CFE-A 0\.0[56].*repeat the sample/)
    expect(suspect?.data.because.join(' ')).toMatch(/units of the point agree/)
  })
  test('must say: what became of it when the next one is in', () => {
    expect(refuted?.data.summary).toMatch(
      /CFE-7-3 .*it is not used, for the next one, of 7 May 2026, 20:10 UTC, differs/,
    )
  })
  test('must not say: anything against the three units, or the pair in a chart', () => {
    expect(said.opened()).toEqual([])
    for (const analyzer of ['CFE-A', 'CFE-B', 'CFE-C']) {
      expect(said.status(analyzer).assessment).toBe('consistent')
      expect(said.explain(analyzer).excluded.suspect_grab).toBe(1)
      const grabs = said.explain(analyzer).lines.find(one => one.line === 'grab')
      expect(Math.max(...(grabs?.rows ?? []).map(row => Math.abs(row.ofTolerance)))).toBeLessThan(1)
    }
  })
  holdsEverywhere(said)
})
