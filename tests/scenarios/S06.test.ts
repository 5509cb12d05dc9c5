import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** The river rises from 20 to 180 NTU between 05:30 and 08:30 of the tenth day and falls for two days. */
const STORM_DAY = 9 + 5.5 / 24
const RISE_DAYS = 3 / 24
const river = ({ day }: Moment): number => {
  if (day < STORM_DAY) return 20 + 0.5 * Math.sin(day)
  if (day < STORM_DAY + RISE_DAYS) return 20 + (160 * (day - STORM_DAY)) / RISE_DAYS
  return 20 + 160 * Math.exp(-(day - STORM_DAY - RISE_DAYS) / 1.2)
}

const said = runScenario({
  id: 'S06',
  title: 'Storm, nothing wrong',
  from: '2026-05-01',
  days: 14,
  points: {
    RW: {
      water: river,
      // The label of the grab on the steep part is ten minutes off, as planned times are.
      grabs: { at: ['07:00'], value: (readNtu, t) => (Math.floor(t.day) === 9 ? readNtu + 9 : readNtu) },
    },
  },
  register: register => {
    register.points.RW!.grab = { ...register.points.RW!.grab, timeUncertaintyS: 900 }
  },
})

describe('S06 Storm, nothing wrong', () => {
  test('must say: the steep grab is not compared, with rate of change, uncertainty of the time and limit', () => {
    const [steep] = said.suspects('grab')
    expect(said.suspects('grab')).toHaveLength(1)
    expect(steep?.data.sampleId).toBe('RW-10-1')
    expect(steep?.data.summary).toMatch(/moves by 5\d(\.\d)? NTU\/h, 900 s .* limit of 9\.\d+ NTU/)
    expect(steep?.data.ask).toMatch(/steady/)
    expect(said.explain('RW-A').excluded.moving_process).toBe(1)
    expect(said.explain('RW-A').grabs.find(one => one.sampleId === 'RW-11-1')?.use).toBe('used')
  })
  test('must say: a process change common to both units', () => {
    const [began, ended] = said.findings('process_change', 'RW')
    expect(began?.data.phase).toBe('began')
    expect(began?.data.since).toMatch(/^2026-05-10T0[5-7]/)
    expect(began?.data.summary).toMatch(/2 units side by side/)
    expect(ended?.data.phase).toBe('ended')
  })
  test('must not say: any request, or a drift from that pair', () => {
    expect(said.opened()).toEqual([])
    for (const analyzer of ['RW-A', 'RW-B']) expect(said.status(analyzer).assessment).toBe('consistent')
  })
  holdsEverywhere(said)
})
