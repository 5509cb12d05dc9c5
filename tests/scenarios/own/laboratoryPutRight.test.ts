import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario, type ScenarioPlan } from '../support/scenario.js'

/** The bench reads 0.04 NTU high for three and a half days, until it is put right at noon of the thirteenth. */
const off = (readNtu: number, { day }: Moment): number => readNtu + (day >= 9 && day < 12.5 ? 0.04 : 0)
const rounds = (first: string, second: string) => ({ at: [first, second], value: off })

const plan: ScenarioPlan = {
  id: 'laboratoryPutRight',
  title: 'A bench instrument found off on a standard, put right and checked again',
  from: '2026-05-01',
  days: 17,
  points: {
    FE1: { water: 0.06, grabs: rounds('02:00', '14:00') },
    FE2: { water: 0.07, grabs: rounds('04:00', '16:00') },
    FE3: { water: 0.08, grabs: rounds('06:00', '18:00') },
    FE4: { water: 0.055, grabs: rounds('08:00', '20:00') },
    CFE: { water: 0.065, grabs: rounds('10:00', '22:00') },
  },
}
const check = (time: string, asFound: number) => {
  return { kind: 'laboratory_check', laboratoryInstrument: 'BENCH-1', time, reference: 0.1, asFound }
}
const said = runScenario({
  ...plan,
  records: [check('2026-05-13T11:00:00Z', 0.141), check('2026-05-13T12:30:00Z', 0.1)],
})
const without = runScenario(plan)

describe('A bench instrument found off on a standard, put right and checked again', () => {
  const [, found, right] = said.suspects('laboratory')
  const closedAt = (events: typeof said.events) =>
    events.find(one => one.type === 'recommendation.closed')?.time ?? '9999'

  test('the check that shows the shift bears it out, which is said', () => {
    expect(found?.data.summary).toMatch(/read 0\.141 on a standard of 0\.1 NTU.*bears the shift out.*put it right/)
  })
  test('the one after it finds the bench right again', () => {
    expect(right?.data.summary).toMatch(/right again.*grab/)
    expect(said.suspects('laboratory')).toHaveLength(3)
  })
  test('the request ends with the results, and sooner than without the checks', () => {
    expect(said.requests().map(one => one.type)).toEqual(['recommendation.opened', 'recommendation.closed'])
    expect(closedAt(said.events) > '2026-05-13T15').toBe(true)
    expect(closedAt(said.events) < closedAt(without.events)).toBe(true)
    expect(said.state.laboratory.intervals.at(-1)?.untilMs).toBeGreaterThan(Date.parse('2026-05-13T12:00:00Z'))
  })
  test('no analyzer is blamed', () => {
    expect(said.opened().map(one => one.action)).toEqual(['check_laboratory'])
  })
  holdsEverywhere(said)
})
