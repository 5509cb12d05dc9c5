import { describe, expect, it } from 'vitest'
import { HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { advanceStuck, newStuckState, type StuckState } from '../../src/qualify/stuck.js'
import { START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

/** Feeds values at an interval. @returns instants at which the run was called stuck */
function feed(state: StuckState, fromMs: number, values: readonly number[], intervalMs = MINUTE_MS): number[] {
  return values.flatMap((value, i) => {
    const atMs = fromMs + i * intervalMs
    return advanceStuck(state, atMs, value) ? [atMs] : []
  })
}

function noisyDay(): number[] {
  const normal = normalSource(14)
  return Array.from({ length: 1_440 }, () => Math.round((0.043 + 0.0008 * normal()) * 1e4) / 1e4)
}

/** 0.021 and 0.022 NTU in runs of 40 minutes. */
function quiet(hours: number): number[] {
  return Array.from({ length: 60 * hours }, (_, i) => (Math.floor(i / 40) % 2 === 0 ? 0.021 : 0.022))
}

describe('a stuck signal', () => {
  it('scenario S14: 28 hours of one value are stuck from two hours on, to the end', () => {
    const state = newStuckState()
    expect(feed(state, START_MS, noisyDay())).toEqual([])
    const fromMs = START_MS + 24 * HOUR_MS
    const stuck = feed(state, fromMs, Array<number>(28 * 60).fill(0.0431))
    expect(stuck[0]).toBe(fromMs + 2 * HOUR_MS)
    expect(stuck).toHaveLength(26 * 60)
    expect(feed(state, fromMs + 28 * HOUR_MS, [0.0432, 0.0433])).toEqual([])
  })

  it('does not teach the habit: a second one is found as fast', () => {
    const state = newStuckState()
    feed(state, START_MS, noisyDay())
    const { repeats, changes } = state
    feed(state, START_MS + 24 * HOUR_MS, [...Array<number>(28 * 60).fill(0.0431), 0.044])
    expect(state.repeats / state.changes).toBeCloseTo(repeats / changes, 2)
  })

  it('is found at five minutes and at fifteen too', () => {
    for (const minutes of [5, 15]) {
      const state = newStuckState()
      feed(state, START_MS, noisyDay(), minutes * MINUTE_MS)
      const stuck = feed(state, START_MS + 400 * HOUR_MS, Array<number>(112).fill(0.05), minutes * MINUTE_MS)
      expect(stuck.length).toBeGreaterThan(80)
    }
  })

  it('scenario S15: quiet quantised water with runs of 40 equal minutes is not stuck', () => {
    expect(feed(newStuckState(), START_MS, quiet(24 * 14))).toEqual([])
  })

  it('water with that habit may stand for hours, but not for a day', () => {
    const state = newStuckState()
    feed(state, START_MS, quiet(72))
    const fromMs = START_MS + 72 * HOUR_MS
    const stuck = feed(state, fromMs, Array<number>(28 * 60).fill(0.023))
    expect(stuck[0]).toBeGreaterThan(fromMs + 6 * HOUR_MS)
    expect(stuck[0]).toBeLessThan(fromMs + 24 * HOUR_MS)
  })

  it('is not called before two hours, however noisy the habit', () => {
    const state = newStuckState()
    feed(state, START_MS, noisyDay())
    expect(feed(state, START_MS + 24 * HOUR_MS, Array<number>(120).fill(0.05))).toEqual([])
  })
})
