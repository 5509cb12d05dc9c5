import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/** From the evening of the ninth day all bottles come from unclean glass: every result 0.06 NTU high, bench right. */
const unclean = (readNtu: number, { day }: Moment): number => readNtu + (day >= 8.7 ? 0.06 : 0)
const rounds = (minute: number) => ({
  at: [`02:${String(minute)}`, `08:${String(minute)}`, `14:${String(minute)}`, `20:${String(minute)}`],
  value: unclean,
})

const said = runScenario({
  id: 'laboratoryCheckRefutes',
  title: 'A check of the bench that does not bear out what the grab samples show',
  from: '2026-05-01',
  days: 26,
  points: {
    FE1: { water: 0.06, grabs: rounds(10) },
    FE2: { water: 0.07, grabs: rounds(15) },
    FE3: { water: 0.08, grabs: rounds(20) },
    FE4: { water: 0.055, grabs: rounds(25) },
    CFE: { water: 0.065, grabs: rounds(30) },
  },
  // From the twenty-fifth day FE2-A reads low: within the long shift.
  analyzers: { 'FE2-A': { reads: (truthNtu, { day }) => truthNtu - (day >= 24 ? 0.12 : 0) } },
  records: [check('2026-05-10T11:00:00Z', 20, 20.1), check('2026-05-11T09:00:00Z', 0.1, 0.103)],
})

function check(time: string, reference: number, asFound: number) {
  return { kind: 'laboratory_check', laboratoryInstrument: 'BENCH-1', time, reference, asFound }
}

describe('A check of the bench that does not bear out what the grab samples show', () => {
  const [named, high, low, ...more] = said.suspects('laboratory')

  test('the shift is named with its size before the checks', () => {
    expect(named?.data.summary).toMatch(/BENCH-1 reads 0\.0[567]\d* NTU high at [45] points/)
  })
  test('a standard of 20 NTU cannot show 0.06 NTU, and it says so', () => {
    expect(high?.data.summary).toMatch(/too high a standard/)
  })
  test('a check near the level of the grabs does not show it: said, and the request stays', () => {
    expect(low?.data.summary).toMatch(/0\.103 on a standard of 0\.1 NTU.*does not show the shift.*bottles/)
    expect(said.requests('laboratory:BENCH-1').map(one => one.type)).toEqual(['recommendation.opened'])
  })
  test('after a fortnight the level of each point becomes its reference, which is said', () => {
    expect(more).toHaveLength(1)
    expect(more[0]?.data.summary).toMatch(/14 days; .*reference of 5 points/)
    expect(more[0]?.time.slice(0, 10)).toMatch(/2026-05-2[34]/)
    expect(said.explain('FE1-A').grabs.at(-1)?.use).toBe('used')
    expect(said.status('FE1-A').assessment).toBe('consistent')
  })
  test('a change after that is seen at its analyzer alone', () => {
    expect(said.opened().map(one => one.target)).toEqual([{ laboratoryInstrument: 'BENCH-1' }, { analyzer: 'FE2-A' }])
    expect(said.opened('FE2-A')[0]?.bias?.ntu).toBeLessThan(-0.05)
  })
  holdsEverywhere(said)
})
