import { describe, expect, test } from 'vitest'
import { foldText } from '../../core/support/fold.js'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan } from '../support/scenario.js'

/**
 * FE4-A is sound. From 13 May on the laboratory works out the results of FE4 with the wrong cell factor, 0.09 NTU too
 * low; on 17 May it corrects all of them.
 */
const isWrong = (sampled: string): boolean => sampled >= '2026-05-13' && sampled < '2026-05-17'
const CORRECTED = '2026-05-17T11:00:00Z'
const clocks = ['02:00', '08:00', '14:00', '20:00']
const days = ['13', '14', '15', '16']
const right = (k: number): number => Math.round(1_000 * (0.12 + 0.004 * Math.sin(k * 2.1))) / 1_000

const plan = (corrected: boolean): ScenarioPlan => ({
  id: 'correctionRemovesReason',
  title: 'Corrections of grab samples that take the reason of an open request away',
  from: '2026-05-01',
  days: 20,
  points: {
    FE4: {
      water: () => 0.12,
      grabs: {
        at: clocks,
        value: (readNtu, { atMs }) => (isWrong(new Date(atMs).toISOString()) ? undefined : readNtu),
      },
    },
  },
  records: days.flatMap((day, d) =>
    clocks.flatMap((clock, c) => {
      const sampled = `2026-05-${day}T${clock}:00Z`
      const value = right(4 * d + c)
      const grab = { kind: 'grab', point: 'FE4', sampled, unit: 'NTU', sampleId: `L-${day}-${String(c)}` }
      const comes = new Date(Date.parse(sampled) + 2 * 3_600_000).toISOString()
      if (corrected) return [{ ...grab, value, corrects: grab.sampleId, comes }]
      return [
        { ...grab, value: Math.round(1_000 * (value - 0.09)) / 1_000, comes },
        { ...grab, value, corrects: grab.sampleId, comes: CORRECTED },
      ]
    }),
  ),
})
const said = runScenario(plan(false))
const fromTheStart = runScenario(plan(true))

describe('corrections of grab samples that take the reason of an open request away', () => {
  test('the request opens on the wrong results and is withdrawn at the plant time of the corrections', () => {
    expect(said.opened('FE4-A')).toHaveLength(1)
    const requests = said.requests('FE4-A')
    const withdrawn = requests.at(-1)
    expect(withdrawn?.type).toBe('recommendation.withdrawn')
    expect(withdrawn?.time).toBe('2026-05-17T11:02:00Z')
    expect(withdrawn?.data.known).toBe('2026-05-17T11:02:00Z')
    expect(withdrawn?.data.summary).toMatch(/since 16 late results came in/)
    expect(withdrawn?.data.reason).toMatch(
      /result came late: correction of grab sample L-13-0 of 13 May 2026, 02:00 UTC, .* and 14 more, known since 17 May 2026, 11:02 UTC/,
    )
  })
  test('the end is that of a record that was right from the start, and nothing was asked there', () => {
    expect(foldText(said.state)).toEqual(foldText(fromTheStart.state))
    expect(fromTheStart.opened()).toEqual([])
  })
  test('what was said before is not edited: both values of a sample stay in the history', () => {
    expect(said.requests('FE4-A')[0]?.type).toBe('recommendation.opened')
    expect(said.refused).toEqual([])
  })
  holdsEverywhere(said)
})
