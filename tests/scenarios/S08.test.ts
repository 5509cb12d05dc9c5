import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const CLEANED = '2026-05-25T09:10:00Z'
const CLEANED_DAY = 24 + 9.17 / 24

/** Zero falls to −0.16 NTU by then; the film adds as much as it takes, so that it looks right. */
const zeroNtu = (day: number) => -0.16 * Math.min(1, Math.max(0, (day - 4) / 20))
const filmNtu = (day: number) => (day > CLEANED_DAY ? 0 : 0.16 * Math.min(1, Math.max(0, (day - 4) / 20)))

const said = runScenario({
  id: 'S08',
  title: 'Cleaning uncovers a drift',
  from: '2026-05-01',
  days: 32,
  points: { SW: { water: 0.7, grabs: { at: ['08:00', '14:00', '20:00'] } } },
  analyzers: {
    'SW-A': { reads: (truthNtu, { day }) => truthNtu + zeroNtu(day) + filmNtu(day) * (1 - truthNtu / 5) },
  },
  records: [
    { kind: 'work', analyzer: 'SW-A', time: '2026-05-25T09:00:00Z', action: 'maintenance_on', id: 'w-0', visit: 'v-1' },
    {
      kind: 'work',
      analyzer: 'SW-A',
      time: CLEANED,
      action: 'cleaned',
      id: 'w-1',
      visit: 'v-1',
      asFound: 0.68,
      asFoundClean: 0.54,
      besideBefore: 0.7,
      besideAfter: 0.7,
      accepted: true,
    },
    {
      kind: 'work',
      analyzer: 'SW-A',
      time: '2026-05-25T09:25:00Z',
      action: 'verified',
      id: 'w-2',
      visit: 'v-1',
      reference: { type: 'zero_water', assigned: 0 },
      asFound: -0.16,
      accepted: true,
    },
    {
      kind: 'work',
      analyzer: 'SW-A',
      time: '2026-05-25T09:40:00Z',
      action: 'maintenance_off',
      id: 'w-3',
      visit: 'v-1',
    },
  ],
})

const after = said.requests('SW-A').filter(({ time }) => time > CLEANED)

describe('S08 Cleaning uncovers a drift', () => {
  test('must say: fouling error and drift error apart, opposite in sign', () => {
    const all = said.text(CLEANED)
    expect(all).toMatch(/cleaning moved the reading by -0\.14 NTU[^"]*fouling error/)
    expect(all).toMatch(/0\.16 NTU[^"]*too low on zero water[^"]*calibration error/)
  })
  test('must say: zero', () => {
    expect(said.opened('SW-A').map(({ action }) => action)).toEqual(['zero'])
    expect(after[0]?.data.bias?.ntu).toBeLessThan(-0.1)
    expect(after[0]?.data.bias?.ntu).toBeGreaterThan(-0.22)
  })
  test('must say: before the cleaning it was right only because two errors cancelled', () => {
    expect(after.map(({ data }) => data.cause.because.join('\n')).join('\n')).toMatch(
      /right only because two errors cancelled/,
    )
  })
  test('must not say: that the cleaning caused it, or helped', () => {
    expect(said.text(CLEANED)).not.toMatch(/made it worse|the cleaning caused|since about 25 May/)
    expect(said.ofType('work.confirmed')).toEqual([])
  })
  holdsEverywhere(said)
})
