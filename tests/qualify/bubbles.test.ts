import { describe, expect, it } from 'vitest'
import { judgeBubbles, UNRECOVERABLE_SHARE } from '../../src/qualify/bubbles.js'
import { closeBlock, newCondenseState } from '../../src/qualify/closeBlock.js'
import { FLAG } from '../../src/qualify/blockLog.js'
import { addReading, BLOCK_MS, openBlock } from '../../src/qualify/openBlock.js'
import { analyzerOf, reading, START_MS } from '../model/plantFixture.js'
import { HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { normalSource } from '../statistics/random.js'

const RESOLUTION = 0.001

function hour(raised: (minute: number) => boolean): number[] {
  const normal = normalSource(11)
  return Array.from({ length: 60 }, (_, i) => 0.04 + 0.001 * normal() + (raised(i) ? 0.3 : 0))
}

/** Judges readings taken at even distances. */
function judge(windowNtu: readonly number[], everyMs = MINUTE_MS) {
  return judgeBubbles(
    windowNtu,
    windowNtu.map((_, i) => START_MS + i * everyMs),
    RESOLUTION,
  )
}

describe('judgeBubbles', () => {
  it('finds a fifth of the readings raised, and no others', () => {
    const judgement = judge(hour(i => i % 5 === 2))
    expect(judgement.raised).toEqual(Array.from({ length: 12 }, (_, k) => 5 * k + 2))
    expect(judgement.raisedShare).toBeCloseTo(0.2, 12)
    expect(judgement.loweredShare).toBe(0)
  })

  it('takes a long raised run for the water', () => {
    expect(judge(hour(i => i >= 20 && i < 40)).raised).toEqual([])
    expect(judge(hour(i => i >= 56)).raised).toEqual([])
  })

  it('parts bubbles of up to three readings from a run of four', () => {
    const judgement = judge(hour(i => (i >= 5 && i < 8) || (i >= 30 && i < 34)))
    expect(judgement.raised).toEqual([5, 6, 7])
  })

  it('at a reading each quarter-hour takes a single high one for a spike, two in a row for the water', () => {
    const raisedAt = (...places: number[]) => hour(i => places.includes(i)).slice(0, 13)
    expect(judge(raisedAt(3, 9), 15 * MINUTE_MS)).toEqual({ raised: [3, 9], raisedShare: 2 / 13, loweredShare: 0 })
    expect(judge(raisedAt(3, 8, 9), 15 * MINUTE_MS).raised).toEqual([3])
  })

  it('at hourly readings leaves spikes out and says nothing of how many', () => {
    const spiky = hour(i => i === 3 || i === 9).slice(0, 13)
    expect(judge(spiky, HOUR_MS)).toEqual({ raised: [3, 9], raisedShare: 0, loweredShare: 0 })
  })

  it('with over half the readings equal measures by the resolution', () => {
    const equal = Array<number>(13).fill(0.02)
    const withOne = (value: number) => judge([...equal.slice(1), value]).raised
    expect(withOne(0.023)).toEqual([])
    expect(withOne(0.0236)).toEqual([12])
  })

  it('finds nothing in all zeros, and does not judge fewer than seven', () => {
    expect(judge(Array<number>(13).fill(0))).toEqual({ raised: [], raisedShare: 0, loweredShare: 0 })
    expect(judge([0.02, 0.02, 0.02, 0.02, 0.02, 9]).raised).toEqual([])
  })

  it('tells readings that fall from readings that rise', () => {
    const judgement = judge(hour(() => false).map((ntu, i) => (i % 10 === 0 ? ntu - 0.03 : ntu)))
    expect(judgement.raised).toEqual([])
    expect(judgement.loweredShare).toBeCloseTo(0.1, 12)
  })
})

describe('bubbles in blocks', () => {
  const analyzer = analyzerOf()
  function lastOf(raised: (minute: number) => boolean) {
    const state = newCondenseState()
    const values = hour(raised)
    let last = closeBlock(openBlock(START_MS), analyzer, newCondenseState())
    for (let block = 0; block < 4; block++) {
      const open = openBlock(START_MS + (block + 1) * BLOCK_MS)
      for (let i = 15 * block; i < 15 * block + 15; i++)
        addReading(open, reading(START_MS + i * 60_000, values[i]!), analyzer)
      last = closeBlock(open, analyzer, state)
    }
    return last
  }

  it('keeps the level between them and counts what was left out', () => {
    const { block, excluded } = lastOf(i => i % 5 === 2)
    expect(block.medianNtu).toBeCloseTo(0.04, 2)
    expect(excluded).toEqual({ bubble: 3 })
    expect(block.count).toBe(12)
    expect(block.bubbleShare).toBeCloseTo(0.2, 2)
    expect(block.flags).toBe(0)
  })

  it('gives the level up where too many are raised', () => {
    const { block } = lastOf(i => i % 7 < 3)
    expect(block.bubbleShare).toBeGreaterThan(UNRECOVERABLE_SHARE)
    expect(block.flags & FLAG.levelNotRecoverable).not.toBe(0)
  })
})
