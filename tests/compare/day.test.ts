import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { closeDay, newDayInHand, takeBlock } from '../../src/compare/day.js'
import { DAY_MS } from '../../src/model/time.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { median, quantile } from '../../src/statistics/robust.js'
import { START_MS } from '../model/plantFixture.js'
import { logOf } from '../qualify/blocks.js'

const END_MS = START_MS + DAY_MS
const ends = Array.from({ length: 96 }, (_, slot) => START_MS + (slot + 1) * BLOCK_MS)
/** The n-th block of the day holds n hundredths. */
const log = logOf(START_MS, END_MS, atMs => (Math.floor((atMs - START_MS) / BLOCK_MS) + 1) / 100)

describe('a day', () => {
  it('is made of the blocks that count, whichever they are', () => {
    fc.assert(
      fc.property(fc.array(fc.boolean(), { minLength: 96, maxLength: 96 }), counts => {
        const day = newDayInHand(2)
        ends.forEach((endMs, slot) => takeBlock(day, endMs, [counts[slot]!, !counts[slot]!], true))
        const { units } = closeDay(day, END_MS, [log, log])
        for (const [unit, taken] of [counts, counts.map(one => !one)].entries()) {
          const levels = taken.flatMap((one, slot) => (one ? [Math.fround((slot + 1) / 100)] : []))
          if (levels.length < 24) expect(units[unit]).toBeNull()
          else
            expect(units[unit]).toEqual({
              n: levels.length,
              floorNtu: Math.round(1e4 * quantile(levels, 0.1)) / 1e4,
              medianNtu: Math.round(1e4 * median(levels)) / 1e4,
            })
        }
      }),
      { seed: 11, numRuns: 60 },
    )
  })

  it('begins anew, and keeps the flow that was sent last', () => {
    const day = newDayInHand(1)
    day.flowM3h = 120
    for (const endMs of ends) takeBlock(day, endMs, [true], endMs <= START_MS + DAY_MS / 2)
    expect(closeDay(day, END_MS, [log]).flowM3h).toBe(120)
    expect(day).toEqual({ ...newDayInHand(1), flowM3h: 120 })
  })

  it('has the mean flow of the blocks in service', () => {
    const day = newDayInHand(1)
    ends.forEach((endMs, slot) => {
      day.flowM3h = slot < 48 ? 100 : 200
      takeBlock(day, endMs, [true], slot < 72)
    })
    expect(closeDay(day, END_MS, [log]).flowM3h).toBeCloseTo((48 * 100 + 24 * 200) / 72, 1)
    expect(closeDay(newDayInHand(1), END_MS, [log]).flowM3h).toBeNull()
  })
})
