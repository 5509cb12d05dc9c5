import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario, type ScenarioPlan } from '../support/scenario.js'

const check = (time: string, id: string, reference: Record<string, unknown>, asFound: number) => ({
  kind: 'work',
  analyzer: 'SW-A',
  time,
  id,
  action: 'verified',
  reference,
  asFound,
})

/** Settled water keeps to one level, so grab samples alone cannot part a zero error from a span error. */
const plan: ScenarioPlan = {
  id: 'standardPartsZeroFromSpan',
  title: 'Zero water and a standard part zero from span',
  from: '2026-05-01',
  days: 26,
  points: { SW: { water: 1.4 } },
  analyzers: { 'SW-A': { reads: (truthNtu, { day }) => truthNtu * (day < 10 ? 1 : 0.86) } },
}

describe('without a check', () => {
  const said = runScenario(plan)
  test('zero and span are not told apart', () => {
    expect(said.requests('SW-A').at(-1)?.data.cause.ranked[0]?.cause).toBe('undecided')
  })
})

describe('with a check on zero water and on its standard', () => {
  const said = runScenario({
    ...plan,
    records: [
      check('2026-05-20T10:00:00Z', 'W-1', { type: 'zero_water', assigned: 0 }, 0.01),
      check('2026-05-20T10:30:00Z', 'W-2', { type: 'secondary_standard', id: 'D-1012', assigned: 34.9 }, 30.1),
    ],
  })
  const last = said.requests('SW-A').at(-1)?.data
  test('the request is revised to the span, with its size', () => {
    expect(said.opened('SW-A')).toHaveLength(1)
    expect(last?.cause.ranked[0]?.cause).toBe('span_drift')
    expect(last?.action).toMatch(/span|inspect/)
    expect(last?.model?.spanRel.value).toBeCloseTo(-0.14, 1)
    expect(Math.abs(last?.model?.zeroNtu.value ?? 9)).toBeLessThan(0.03)
  })
  test('the standard is named among what shows it, and its line is in the evidence', () => {
    expect(last?.summary).toMatch(/standard D-1012/)
    expect(last?.evidence.find(({ line }) => line === 'verification')?.points).toHaveLength(2)
  })
  holdsEverywhere(said)
})

describe('with a check on the standard of another analyzer', () => {
  const said = runScenario({
    ...plan,
    records: [check('2026-05-20T10:30:00Z', 'W-2', { type: 'secondary_standard', id: 'D-1013', assigned: 34.8 }, 30.1)],
  })
  test('it is left out and counted, and changes nothing', () => {
    const { lines, excluded } = said.explain('SW-A')
    expect(lines.find(({ line }) => line === 'verification')?.missing).toMatch(
      /1 as found on record, its reference is contradicted or not assigned/,
    )
    expect(excluded.reference_contradicted).toBe(1)
    expect(said.requests('SW-A').at(-1)?.data.cause.ranked[0]?.cause).toBe('undecided')
  })
})
