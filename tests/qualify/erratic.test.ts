import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { advanceErratic, type ErraticState, newErraticState } from '../../src/qualify/erratic.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { HOUR_MS } from '../../src/model/time.js'
import { START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

const TOLERANCE = { absoluteNtu: 0.05, relative: 0.1 }
const WEEK = 7 * 96

/** @returns for each block whether it is erratic */
function feed(state: ErraticState, levelsNtu: readonly number[], fromBlock: number): boolean[] {
  return levelsNtu.map((ntu, i) => {
    advanceErratic(state, START_MS + (fromBlock + i) * BLOCK_MS, ntu, TOLERANCE)
    return state.sinceMs !== null
  })
}

function calmWeek(): ErraticState {
  const state = newErraticState()
  const normal = normalSource(5)
  expect(
    feed(
      state,
      Array.from({ length: WEEK }, () => 0.3 + 0.005 * normal()),
      0,
    ),
  ).not.toContain(true)
  return state
}

const sawtooth = (blocks: number, ntu: number) => Array.from({ length: blocks }, (_, i) => 0.3 + (i % 2) * ntu)

describe('erratic', () => {
  it('is found within three hours of a sawtooth, from its begin on, and over within three hours after', () => {
    const state = calmWeek()
    const found = feed(state, sawtooth(16, 0.4), WEEK)
    expect(found.indexOf(true)).toBeLessThanOrEqual(8)
    expect(state.sinceMs).toBeGreaterThanOrEqual(START_MS + (WEEK - 1) * BLOCK_MS)
    expect(state.sinceMs).toBeLessThanOrEqual(START_MS + (WEEK + 2) * BLOCK_MS)
    const after = feed(state, Array<number>(16).fill(0.3), WEEK + 16)
    expect(after.lastIndexOf(true)).toBeLessThanOrEqual(12)
  })

  it('is no rise and no fall, however steep', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0, max: 20, noNaN: true }), { minLength: 30, maxLength: 30 }), steps => {
        const state = calmWeek()
        let ntu = 0.3
        const rising = steps.map(step => (ntu += step))
        const falling = [...rising].reverse()
        expect(feed(state, [...rising, ...falling], WEEK)).not.toContain(true)
      }),
      { numRuns: 50, seed: 61 },
    )
  })

  it('is not what an analyzer always does', () => {
    const state = newErraticState()
    const normal = normalSource(9)
    const restless = Array.from({ length: 2 * WEEK }, () => 0.3 + 0.04 * normal())
    expect(feed(state, restless, 0)).not.toContain(true)
  })

  it('is nothing within the tolerance, however calm the water was', () => {
    const state = newErraticState()
    feed(state, Array<number>(WEEK).fill(0.3), 0)
    expect(feed(state, sawtooth(96, 0.049), WEEK)).not.toContain(true)
  })

  it('is not judged before two days, and not over a gap', () => {
    const young = newErraticState()
    feed(young, Array<number>(96).fill(0.3), 0)
    expect(feed(young, sawtooth(24, 0.4), 96)).not.toContain(true)
    const state = calmWeek()
    feed(state, sawtooth(16, 0.4), WEEK)
    expect(state.sinceMs).not.toBeNull()
    feed(state, [0.3], WEEK + 16 + (7 * HOUR_MS) / BLOCK_MS)
    expect(state.sinceMs).toBeNull()
  })
})
