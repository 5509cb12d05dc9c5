import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

/** From 2 to 60 NTU and back in two months, more in the afternoon than at dawn, as snow melts by day. */
function melt({ day, hour }: Moment): number {
  const season = day < 14 || day > 76 ? 0 : Math.sin(((day - 14) / 62) * Math.PI) ** 2
  const byDay = 1 + 0.35 * season * Math.sin(((hour - 9) / 24) * 2 * Math.PI)
  return 2 * Math.exp(3.4 * season) * byDay
}

/** The river rises thirtyfold and falls again. Nothing is wrong with either unit. */
const said = runScenario({
  id: 'springMelt',
  title: 'Two months of melt',
  from: '2026-03-20',
  days: 90,
  intervalS: 900,
  points: { RW: { water: melt, grabs: { at: ['08:00'] } } },
})

describe('two months of melt', () => {
  test('must not say: anything to be done', () => {
    expect(said.requests()).toEqual([])
  })
  test('must not say: bubbles, jumps, a stuck signal, a rest', () => {
    expect(said.findings().map(event => event.data.finding)).toEqual([])
  })
  test('must say: consistent, before, at its height and after', () => {
    for (const until of ['2026-04-02T00:00:00Z', '2026-05-04T00:00:00Z', '2026-06-17T00:00:00Z'])
      for (const unit of ['RW-A', 'RW-B']) expect(said.status(unit, until).assessment).toBe('consistent')
  })
  holdsEverywhere(said)
})
