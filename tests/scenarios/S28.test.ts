import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import { type Moment, runScenario } from './support/scenario.js'

/** SW swings by a third within hours, never twice in the same rhythm. */
const swinging = ({ day }: Moment): number =>
  1.3 + 0.4 * Math.sin(2 * Math.PI * day * 1.87) + 0.2 * Math.sin(2 * Math.PI * day * 3.13 + 1)
/** Bottles are filled up to half an hour before or after the full hour that is written on them. */
const filledAt = (t: Moment): number => {
  const lateH = 0.5 * Math.sin(12.9898 * t.day * t.day + 78.233 * t.day)
  return swinging({ ...t, day: t.day + lateH / 24 })
}

const said = runScenario({
  id: 'S28',
  title: 'Analyzer and bench agree, rounding hides time',
  from: '2026-05-01',
  days: 61,
  points: {
    SW: {
      water: swinging,
      grabs: {
        at: ['03:00', '08:00', '16:00', '21:00'],
        value: (readNtu, t) => readNtu + filledAt(t) - swinging(t),
      },
    },
  },
})

describe('S28 Sample times are planned, not actual', () => {
  const planned = said.suspects('grab').filter(one => one.data.summary.includes('look planned'))

  test('must say: scatter follows the rate of change, sample times look planned', () => {
    expect(planned).toHaveLength(1)
    expect(planned[0]?.data.point).toBe('SW')
    expect(planned[0]?.data.summary).toMatch(/sample times look planned.*scatter follows the rate of change/)
  })
  test('must say: the wider uncertainty that is used from then on', () => {
    expect(planned[0]?.data.summary).toMatch(/(1[5-9]|2\d|30) min of uncertainty count from now on \(2 before\)/)
    const toldMs = Date.parse(planned[0]!.time)
    const { grabs } = said.explain('SW-A')
    const widest = (own: typeof grabs): number => Math.max(...own.map(one => one.uNtu))
    expect(widest(grabs.filter(one => one.atMs > toldMs))).toBeGreaterThan(
      1.5 * widest(grabs.filter(one => one.atMs < toldMs)),
    )
  })
  test('must not say: a noisy analyzer, or drift in either direction', () => {
    expect(said.opened()).toEqual([])
    expect(said.text()).not.toMatch(/nois(?:e|y) (?!of the analyzer would)/)
    expect(said.status('SW-A').assessment).toBe('consistent')
  })
  holdsEverywhere(said)
})
