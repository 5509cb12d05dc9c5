import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const BEGAN_DAY = 9

/** Low river for days, then high water, in turn: 1.5 to 45 NTU. */
const riverNtu = (day: number) => (Math.sin(day / 1.1) > 0 ? 1.8 + 0.3 * Math.sin(day * 3) : 34 + 9 * Math.sin(day * 2))
/** Offset that the film adds; it takes gain as well, the same amount at 5 NTU. */
const filmNtu = (day: number) => 0.75 * (Math.max(0, day - BEGAN_DAY) / 16) ** 2

const said = runScenario({
  id: 'filmOnRawWater',
  title: 'A film on raw water: high in low water, low in high water',
  from: '2026-04-01',
  days: 27,
  points: { RW: { water: ({ day }) => riverNtu(day), grabs: { at: ['04:10', '16:10'] } } },
  analyzers: { 'RW-B': { reads: (truthNtu, { day }) => truthNtu + filmNtu(day) * (1 - truthNtu / 5) } },
})

describe('A film on raw water whose error changes sign with the level', () => {
  test('must say: a film, clean first', () => {
    const [opened] = said.opened('RW-B')
    const last = said.requests('RW-B').at(-1)?.data
    expect(opened?.action).toBe('clean_then_verify')
    expect(last?.action).toBe('clean_then_verify')
    expect(last?.cause.ranked.find(({ cause }) => cause !== 'undecided')?.cause).toBe('fouling')
  })
  test('must say: that it adds an offset and takes gain, with both sizes', () => {
    expect(said.requests('RW-B').at(-1)?.data.cause.because.join('\n')).toMatch(
      /reads [\d.]+ NTU high in low water and [\d.]+ NTU low in high water: a film adds an offset and takes gain/,
    )
  })
  test('must not say: zero or span, or anything against RW-A', () => {
    for (const { data } of said.requests()) expect(data.action).not.toMatch(/zero|span/)
    expect(said.opened('RW-A')).toEqual([])
  })
  holdsEverywhere(said)
})
