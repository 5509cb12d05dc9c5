import { describe, expect, it } from 'vitest'
import { daylightSign, newDaylightState, takeDaylight } from '../../../src/diagnose/signs/daylight.js'
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../src/model/time.js'
import { BLOCK_MS } from '../../../src/qualify/openBlock.js'
import { normalSource } from '../../statistics/random.js'

const START_MS = Date.UTC(2026, 5, 1)
const TOLERANCE = 0.05

interface Plan {
  readonly days: number
  readonly offsetMin?: number
  readonly seed?: number
  /** Slow difference of the water in two cells, NTU. */
  readonly slowNtu?: number
  readonly addsNtu: (hour: number, day: number) => number
  /** Of the other units; default 0.07. */
  readonly levelNtu?: (hour: number, day: number) => number
}

function stateOf({ days, offsetMin = 0, seed = 1, slowNtu = 0.004, addsNtu, levelNtu = () => 0.07 }: Plan) {
  const state = newDaylightState()
  const normal = normalSource(seed)
  let slow = 0
  for (let endMs = START_MS; endMs < START_MS + days * DAY_MS; endMs += BLOCK_MS) {
    slow = 0.98 * slow + 0.2 * slowNtu * normal()
    const wallMs = endMs + offsetMin * MINUTE_MS
    const hour = (wallMs % DAY_MS) / HOUR_MS
    const day = (endMs - START_MS) / DAY_MS
    takeDaylight(state, endMs, offsetMin, addsNtu(hour, day) + slow, levelNtu(hour, day))
  }
  return state
}

const isLight = (hour: number) => hour > 7 && hour < 19
const VISIT_MS = START_MS + 8.4 * DAY_MS
/** Water that from the visit on stands threefold by day, as when snow melts. */
const melt = (hour: number, day: number) => (day > 8.4 && isLight(hour) ? 0.9 : 0.3)
const light: Plan = { days: 16, addsNtu: (hour, day) => (day > 8.4 && isLight(hour) ? 0.03 : 0) }

describe('light that falls in', () => {
  it('shows by day and not by night since a visit', () => {
    const sign = daylightSign(stateOf(light), VISIT_MS, TOLERANCE)
    expect(sign?.dayNtu).toBeCloseTo(0.03, 1)
    expect(sign?.nightNtu).toBeCloseTo(0, 1)
    expect(sign?.days).toBeGreaterThan(4)
  })

  it('follows the clock of the plant, wherever it stands', () => {
    for (const offsetMin of [-600, -300, 330, 720])
      expect(daylightSign(stateOf({ ...light, offsetMin }), VISIT_MS, TOLERANCE)?.dayNtu).toBeCloseTo(0.03, 1)
  })

  it.each<[string, Plan, number | null]>([
    ['a zero that drifts', { days: 16, addsNtu: (_, day) => 0.004 * Math.max(0, day - 8) }, VISIT_MS],
    ['a step at the visit', { days: 16, addsNtu: (_, day) => (day > 8.4 ? 0.04 : 0) }, VISIT_MS],
    ['what was there before the visit', { days: 16, addsNtu: hour => (isLight(hour) ? 0.03 : 0) }, VISIT_MS],
    ['lower by day', { days: 16, addsNtu: (hour, day) => (day > 8.4 && isLight(hour) ? -0.03 : 0) }, VISIT_MS],
    ['a gain 7 % apart on melt water', { days: 16, levelNtu: melt, addsNtu: (...at) => 0.07 * melt(...at) }, VISIT_MS],
    ['two days since the visit', { ...light, days: 10.5 }, VISIT_MS],
    ['one sunny day', { days: 16, addsNtu: (hour, day) => (Math.floor(day) === 14 && isLight(hour) ? 0.2 : 0) }, null],
  ])('is not called for %s', (_, plan, visitMs) => {
    expect(daylightSign(stateOf(plan), visitMs, TOLERANCE)).toBeUndefined()
  })

  it('is not made by the slow difference of the water in two cells, in 400 visits', () => {
    let called = 0
    for (let seed = 1; seed <= 400; seed++) {
      const state = stateOf({ days: 13, seed, slowNtu: 0.008, addsNtu: () => 0 })
      if (daylightSign(state, START_MS + 6.4 * DAY_MS, TOLERANCE) !== undefined) called += 1
    }
    expect(called).toBe(0)
  })
})
