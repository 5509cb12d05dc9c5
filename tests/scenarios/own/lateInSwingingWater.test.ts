import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** A river that swings by a third twice a day. */
const riverNtu = (day: number) => 24 + 8 * Math.sin(4 * Math.PI * day) + 3 * Math.sin(1.3 * day)
const LATE_DAYS = 35 / 1_440

/** From the tenth day on the flow of RW-B is throttled: it shows what RW-A showed half an hour before. */
const said = runScenario({
  id: 'lateInSwingingWater',
  title: 'A unit that is late in swinging water looks wrong and is not',
  from: '2026-05-01',
  days: 26,
  points: { RW: { water: ({ day }) => riverNtu(day), grabs: { at: ['07:00', '10:00', '16:00'] } } },
  analyzers: {
    'RW-B': { reads: (truthNtu, { day }) => truthNtu + (day < 10 ? 0 : riverNtu(day - LATE_DAYS) - riverNtu(day)) },
  },
})

describe('A unit that is late in swinging water', () => {
  test('must say: its difference goes with how fast the water changes, and how late it is', () => {
    const late = said.explain('RW-B').signs.join('\n')
    expect(late).toMatch(/goes with how fast the water changes: it is about [23]\d min late/)
    expect(said.explain('RW-A').signs.join('\n')).not.toMatch(/late/)
  })
  test('must say: so as a finding, once, in place of a difference that comes and goes with the water', () => {
    const told = said.findings('comes_late', 'RW-B').filter(({ data }) => data.phase === 'began')
    expect(told).toHaveLength(1)
    expect(told[0]?.data.summary).toMatch(/about [23]\d min late, which makes \d+ % .*look at its sample flow/)
    expect(said.findings('comes_late', 'RW-A')).toEqual([])
    expect(said.findings('gross_difference').filter(({ time }) => time > (told[0]?.time ?? ''))).toEqual([])
  })
  test('must not say: a drift, a film, zero, span or cleaning', () => {
    for (const { data } of said.requests()) expect(data.action).not.toMatch(/zero|span|clean/)
  })
  holdsEverywhere(said)
})
