import { describe, expect, test } from 'vitest'
import { correctedRecord } from '../../src/core/correctedRecord.js'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const CLEANED = '2026-05-29T09:10:00Z'
const CLEANED_DAY = 28 + 9.17 / 24

/** Ever faster: with the square of the age, to 0.25 NTU in three weeks. */
const filmNtu = (day: number) => (day < 7 || day > CLEANED_DAY ? 0 : 0.25 * ((day - 7) / 21) ** 2)

const said = runScenario({
  id: 'S03',
  title: 'Window fouling, cleaned',
  from: '2026-05-01',
  days: 33,
  points: { SW: { water: 1.2, grabs: { at: ['08:00', '20:00'] } } },
  analyzers: {
    'SW-A': { reads: (truthNtu, { day }) => truthNtu + filmNtu(day) * (1 - truthNtu / 5) },
  },
  records: [
    {
      kind: 'work',
      analyzer: 'SW-A',
      time: CLEANED,
      action: 'cleaned',
      id: 'w-1',
      asFound: 1.39,
      asFoundClean: 1.2,
      accepted: true,
    },
  ],
})

const after = said.requests('SW-A').filter(({ time }) => time > CLEANED)

describe('S03 Window fouling, cleaned', () => {
  test('must say: clean, a film first', () => {
    const [opened] = said.opened('SW-A')
    expect(opened?.action).toBe('clean_then_verify')
    expect(opened?.openedAt ?? '9').toMatch(/^2026-05-2/)
    expect(opened?.cause.ranked.find(({ cause }) => cause !== 'undecided')?.cause).toBe('fouling')
  })
  test('must say: effective, with the grab samples used', () => {
    const [verdict] = said.verdicts('SW-A')
    expect(verdict?.type).toBe('work.confirmed')
    expect(verdict?.data.pairs).toBeGreaterThanOrEqual(4)
    expect(after.at(-1)?.data.phase).toBe('closed')
  })
  test('must say: how the three weeks could be corrected, with the formula, as advice', () => {
    const { correction } = said.verdicts('SW-A')[0]?.data ?? {}
    expect(correction?.from ?? '').toMatch(/^2026-05-(0[5-9]|1[0-5])/)
    expect(correction).toMatchObject({ to: CLEANED, source: 'visit', atVisitNtu: -0.19 })
    expect(correction?.formula).toMatch(/^proposed = original − 0\.19 NTU × \(t − \d+ May 2026, .* UTC\) \/ [\d.]+ d/)
    expect(correction!.ci95[0]).toBeLessThan(-0.19)
    expect(correction!.ci95[1]).toBeGreaterThan(-0.19)
  })
  test('must not say: a correction applied to the record', () => {
    const { blocks } = said.explain('SW-A')
    const { rows } = correctedRecord(said.state, 'SW-A') ?? { rows: [] }
    expect(rows.length).toBeGreaterThan(100)
    for (const { time, originalNtu, proposedNtu } of rows) {
      expect(blocks.find(one => one.endMs === Date.parse(time))?.medianNtu).toBe(originalNtu)
      expect(proposedNtu).toBeLessThan(originalNtu)
    }
  })
  test('must not say: zero or span after the cleaning', () => {
    for (const { data } of after) expect(data.action).not.toMatch(/zero|span/)
    expect(said.opened('SW-A')).toHaveLength(1)
  })
  holdsEverywhere(said)
})
