import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/** Grows for two weeks, gone with a surge of the water on the 22nd day: nobody touched anything. */
const film = ({ day }: Moment): number => (day > 6 && day < 21.5 ? 0.2 * ((day - 6) / 15) ** 2 : 0)

const said = runScenario({
  id: 'filmWashedOff',
  title: 'A film that is washed off before anybody came',
  from: '2026-05-01',
  days: 36,
  points: { SW: { water: 1.2, grabs: { at: ['01:30', '07:30', '13:30', '19:30'] } } },
  analyzers: { 'SW-A': { reads: (truthNtu, t) => truthNtu + film(t) } },
})

describe(said.plan.title, () => {
  test('must say: clean, while it is there', () => {
    expect(said.opened('SW-A')[0]?.action).toBe('clean_then_verify')
  })
  test('must say: that the request is withdrawn, and why, within a week of its going', () => {
    const ended = said.requests('SW-A').find(event => event.type === 'recommendation.withdrawn')
    expect(ended?.time.slice(0, 10) ?? '9').toMatch(/^2026-05-2[2-9]/)
    expect(ended?.data.reason ?? '').not.toBe('')
  })
  test('must not say: that work helped, or that it reads low since', () => {
    expect(said.verdicts()).toEqual([])
    expect(said.opened('SW-A')).toHaveLength(1)
  })
  holdsEverywhere(said)
})
