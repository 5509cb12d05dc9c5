import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const STORM = '2026-06-07T00:00:00Z'
const STORM_DAY = 37

const riverNtu = (day: number) => {
  const storm =
    day < STORM_DAY ? 0 : Math.min(1, (day - STORM_DAY) / 0.5) * Math.max(0, 1 - (day - STORM_DAY - 1.5) / 5)
  return 12 + Math.sin(day / 1.3) + 128 * storm
}

/** 1.4 NTU at 12 NTU and 16 NTU at 140 NTU are one span error. */
const said = runScenario({
  id: 'S05',
  title: 'Zero or span: too narrow to tell, then a storm tells',
  from: '2026-05-01',
  days: 43,
  points: { RW: { water: ({ day }) => riverNtu(day), grabs: { at: ['10:00'] } } },
  analyzers: { 'RW-A': { reads: (truthNtu, { day }) => truthNtu * (day < 7 ? 1 : 0.886) } },
})

const before = said.requests('RW-A').filter(({ time }) => time < STORM)
const after = said.requests('RW-A').filter(({ time }) => time >= STORM)

describe('S05 Zero or span: too narrow to tell, then a storm tells', () => {
  test('must say before the storm: zero and span not separable, asks for zero check and secondary standard', () => {
    const [opened] = said.opened('RW-A')
    expect(before.length).toBeGreaterThan(0)
    expect(opened?.action).toBe('verify')
    expect(opened?.summary).toMatch(/zero drift|span drift/)
    expect(opened?.summary).toMatch(/not decided which: check zero and read its standard/)
    expect(opened?.cause.because.join('\n')).toMatch(/a zero check and the secondary standard tell/)
  })
  test('must say after it: span, with its interval, the request revised and not doubled', () => {
    const last = after.at(-1)?.data
    expect(last?.cause.ranked[0]?.cause).toBe('span_drift')
    expect(last?.action).toMatch(/span/)
    expect(last?.model?.spanRel.ci95[0]).toBeLessThan(-0.09)
    expect(last?.model?.spanRel.ci95[1]).toBeGreaterThan(-0.14)
    expect(last?.model?.spanRel.ci95[1]).toBeLessThan(-0.09)
    expect(said.opened()).toHaveLength(1)
    expect(after.map(({ type }) => type)).toContain('recommendation.revised')
  })
  test('must not say: a confident zero or span before the storm, or process change because of it', () => {
    for (const { data } of before) expect(data.cause.ranked[0]?.cause).toBe('undecided')
    for (const { data } of said.requests())
      expect(data.cause.ranked.map(({ cause }) => cause)).not.toContain('process_change')
  })
  holdsEverywhere(said)
})
