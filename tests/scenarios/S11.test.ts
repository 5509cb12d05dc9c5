import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { runScenario } from './support/scenario.js'

const CLEANED_DAYS = [13.4, 19.4, 25.4]
const THIRD = '2026-07-26T10:00:00Z'

/** Fog is back two days after each cleaning. */
const isFogged = (day: number) => {
  const cleaned = CLEANED_DAYS.findLast(at => at <= day)
  return day > 7 && (cleaned === undefined || day > cleaned + 2)
}

const said = runScenario({
  id: 'S11',
  title: 'Fogged optics',
  from: '2026-07-01',
  days: 40,
  points: { FE4: { water: 0.06, grabs: { at: ['07:30', '19:30'] } } },
  analyzers: {
    'FE4-A': {
      reads: (truthNtu, { day }) => truthNtu + (isFogged(day) ? 0.045 : 0),
      arrives: (shownNtu, { atMs, day }) =>
        shownNtu + (isFogged(day) ? 0.006 * Math.sin(atMs / 7_000) + 0.006 * Math.sin(atMs / 11_000) : 0),
      fields: () => ({ temperatureC: 9.5 }),
    },
  },
  records: CLEANED_DAYS.map((day, k) => ({
    kind: 'work',
    analyzer: 'FE4-A',
    time: new Date(Date.UTC(2026, 6, 1) + day * 86_400_000).toISOString().slice(0, 19) + 'Z',
    action: 'cleaned',
    id: `w-${String(k + 1)}`,
    accepted: true,
  })),
})

const after = said.requests('FE4-A').filter(({ time, data }) => time > THIRD && data.phase === 'open')

describe('S11 Fogged optics', () => {
  test('must say: inspect, for dryness, seals and vent, condensation among the causes', () => {
    expect(after.length).toBeGreaterThan(0)
    expect(after.at(-1)?.data.action).toBe('inspect')
    expect(after.at(-1)?.data.cause.ranked.map(({ cause }) => cause)).toContain('condensation')
    expect(after.at(-1)?.data.summary).toMatch(/seals, dryness and vent/)
    expect(after.at(-1)?.data.procedure.steps.join('\n')).toMatch(/seal/)
  })
  test('must say: that it comes back after each cleaning, with their dates', () => {
    expect(after.at(-1)?.data.cause.because.join('\n')).toMatch(
      /cleaned on 14 Jul 2026, 20 Jul 2026 and 26 Jul 2026, each time it was back .* after 2 days/,
    )
  })
  test('must not say: a fourth cleaning, or zero', () => {
    for (const { data } of after) expect(data.action).not.toMatch(/clean|zero/)
  })
  holdsEverywhere(said)
})
