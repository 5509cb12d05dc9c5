import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

const onStandard = (time: string, id: string, asFound: number, asLeft: number) => ({
  kind: 'work',
  id,
  analyzer: 'RW-A',
  time,
  action: 'span',
  visit: 'V-7',
  reference: { type: 'secondary_standard', id: 'D-1014', assigned: 36.2 },
  asFound,
  asLeft,
  accepted: true,
})

/** RW-A has lost 12 %. The first span of the visit leaves it 9 % high, the second within half a per cent. */
const said = runScenario({
  id: 'spannedTwice',
  title: 'Spanned twice in one visit',
  from: '2026-05-01',
  days: 28,
  points: {
    RW: {
      water: ({ day }) => 40 + 18 * Math.sin(day / 2.1) + 4 * Math.sin(7 * day),
      grabs: { at: ['08:00', '20:00'] },
    },
  },
  analyzers: { 'RW-A': { reads: (truthNtu, { day }) => truthNtu * (day > 4 && day < 18.42 ? 0.88 : 1) } },
  records: [
    { kind: 'work', id: 'W-0', analyzer: 'RW-A', time: '2026-04-30T09:00:00Z', action: 'span', accepted: true },
    onStandard('2026-05-19T10:00:00Z', 'W-1', 31.9, 39.5),
    onStandard('2026-05-19T10:40:00Z', 'W-2', 39.4, 36.3),
  ],
})

describe('spanned twice in one visit', () => {
  test('must say: the first is not done, as left 9.1 % off', () => {
    expect(said.suspects('work_record').map(({ data }) => data.because.join())).toEqual([
      expect.stringMatching(/left 39\.5 NTU is 9\.1 % from 36\.2 NTU, limit 5 %, yet accepted/),
    ])
  })
  test('must say: one piece of work, proven by the grab samples after the second', () => {
    const [verdict, ...others] = said.verdicts('RW-A')
    expect(others).toEqual([])
    expect(verdict).toMatchObject({ type: 'work.confirmed', data: { work: { id: 'W-2' } } })
    expect(said.opened('RW-A')).toHaveLength(1)
  })
  test('must say: as found is what stood there before the first', () => {
    const because = said.verdicts('RW-A')[0]?.data.because.join('; ') ?? ''
    expect(because).toMatch(/as found it read 4\.3 NTU \(13\.5 %\) too low on D-1014 of 36\.2 NTU/)
    expect(because).not.toMatch(/too high/)
  })
  test('must not say: a span of the second that is measured from the first', () => {
    const { correction } = said.verdicts('RW-A')[0]?.data ?? {}
    expect(correction?.formula).toMatch(/0\.1348 × original/)
    expect(correction?.atVisitNtu).toBeGreaterThan(0)
  })
  holdsEverywhere(said)
})
