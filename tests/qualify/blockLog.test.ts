import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY_MS } from '../../src/model/time.js'
import { REACH_DAYS, blockAt, FLAG, newBlockLog, putBlock } from '../../src/qualify/blockLog.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { START_MS } from '../model/plantFixture.js'
import { blockEnding } from './blocks.js'

const float = fc.float({ noNaN: true, min: -1, max: 4_000 })
const anyBlock = fc.record({
  endMs: fc.integer({ min: 0, max: 959 }).map(i => START_MS + i * BLOCK_MS),
  medianNtu: fc.oneof(float, fc.constant(NaN)),
  sigmaNtu: float,
  slotsNtu: fc.tuple(fc.oneof(float, fc.constant(NaN)), float, fc.constant(NaN)),
  count: fc.integer({ min: 0, max: 255 }),
  bubbleShare: fc.integer({ min: 0, max: 255 }).map(n => n / 255),
  flags: fc.integer({ min: 0, max: 255 }),
})

describe('blockLog', () => {
  it('gives back what was put in', () => {
    fc.assert(
      fc.property(fc.uniqueArray(anyBlock, { selector: block => block.endMs, maxLength: 30 }), blocks => {
        const log = newBlockLog()
        for (const block of blocks) putBlock(log, block)
        for (const block of blocks) expect(blockAt(log, block.endMs)).toEqual(block)
      }),
      { seed: 20_260_302, numRuns: 100 },
    )
  })

  it('keeps a day more than the reach of late facts and forgets what the next wrote over', () => {
    const log = newBlockLog()
    const kept = (REACH_DAYS + 1) * DAY_MS
    expect(REACH_DAYS).toBe(10)
    for (let endMs = START_MS; endMs < START_MS + kept; endMs += BLOCK_MS) putBlock(log, blockEnding(endMs))
    expect(blockAt(log, START_MS)?.endMs).toBe(START_MS)
    putBlock(log, blockEnding(START_MS + kept, { medianNtu: 1 }))
    expect(blockAt(log, START_MS)).toBeUndefined()
    expect(blockAt(log, START_MS + kept)?.medianNtu).toBe(1)
    expect(blockAt(log, START_MS + BLOCK_MS)).toBeDefined()
    putBlock(log, blockEnding(START_MS, { medianNtu: 2 }))
    expect(blockAt(log, START_MS + kept)?.medianNtu).toBe(1)
  })

  it('knows nothing of blocks nobody put in', () => {
    expect(blockAt(newBlockLog(), START_MS)).toBeUndefined()
  })

  it('replaces a block by a newer one of the same time and holds a count that is too large', () => {
    const log = newBlockLog()
    putBlock(log, blockEnding(START_MS))
    putBlock(log, blockEnding(START_MS, { count: 1e6, flags: FLAG.stuck }))
    expect(blockAt(log, START_MS)).toMatchObject({ count: 255, flags: FLAG.stuck })
  })

  it('takes 27 bytes a block', () => {
    const log = newBlockLog()
    const bytes = log.numbers.byteLength + log.floats.byteLength + log.bytes.byteLength
    expect(bytes).toBe((REACH_DAYS + 1) * 96 * 27)
  })
})
