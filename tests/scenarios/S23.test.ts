import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** From its service on the morning of the fifteenth day the bench instrument reads 0.04 NTU high. */
const FROM_DAY = 14.3
const benchHigh = (readNtu: number, { day }: Moment): number => readNtu + (day >= FROM_DAY ? 0.04 : 0)
const twice = (first: string, second: string) => ({ at: [first, second], value: benchHigh })

const said = runScenario({
  id: 'S23',
  title: 'Bench instrument off at all points',
  from: '2026-05-01',
  days: 22,
  points: {
    FE1: { water: 0.06, grabs: twice('08:00', '20:00') },
    FE2: { water: 0.07, grabs: twice('08:10', '20:10') },
    FE3: { water: 0.08, grabs: twice('08:20', '20:20') },
    FE4: { water: 0.055, grabs: twice('08:30', '20:30') },
    FE5: { water: 0.065, grabs: twice('08:40', '20:40') },
    FE6: { water: 0.07, grabs: twice('08:50', '20:50') },
    CFE: { water: 0.065, grabs: twice('09:00', '21:00') },
    SW: { water: 0.6, grabs: twice('09:10', '21:10') },
  },
})

const POINTS = ['CFE', 'FE1', 'FE2', 'FE3', 'FE4', 'FE5', 'FE6', 'SW']

describe('S23 Bench instrument off at all points', () => {
  const named = said.suspects('laboratory')

  test('must say: one finding on the instrument, its size in NTU, since when, at which points', () => {
    expect(named).toHaveLength(1)
    expect(named[0]?.data.laboratoryInstrument).toBe('BENCH-1')
    expect(named[0]?.data.points).toEqual(POINTS)
    expect(named[0]?.data.summary).toMatch(/BENCH-1 reads 0\.0(3|4)\d* NTU high at 8 points since about 15 May/)
    expect(named[0]!.time < '2026-05-18').toBe(true)
  })
  test('must say: check it on a standard', () => {
    expect(said.opened().map(one => [one.target.laboratoryInstrument, one.action])).toEqual([
      ['BENCH-1', 'check_laboratory'],
    ])
    expect(said.opened()[0]?.summary).toMatch(/0\.0(3|4)\d* NTU high .*check the laboratory instrument on a standard/)
  })
  test('must not say: the offset learnt as normal', () => {
    for (const point of said.state.points.values())
      for (const unit of point.fold.units) expect(Math.abs(unit.offset.heldNtu)).toBeLessThan(0.012)
    expect(said.state.laboratory.intervals.at(-1)?.untilMs).toBeNull()
  })
  holdsEverywhere(said)
})
