import { describe, expect, it } from 'vitest'
import { HOUR_MS } from '../../src/model/time.js'
import { blockAt, FLAG, newBlockLog, putBlock } from '../../src/qualify/blockLog.js'
import { holdValue, isHeard, isHeld } from '../../src/qualify/heldValue.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { analyzerOf, START_MS } from '../model/plantFixture.js'
import { blockEnding } from './blocks.js'

const ON_CHANGE = analyzerOf({ transmission: 'on_change', deadbandNtu: 0.006, heartbeatS: 3_600 })
const at = (block: number) => START_MS + block * BLOCK_MS

function heldAfter(change: Parameters<typeof blockEnding>[1], analyzer = ON_CHANGE) {
  const log = newBlockLog()
  putBlock(log, blockEnding(at(1), change))
  for (let k = 2; k <= 12; k++) holdValue(log, analyzer, at(k - 1), at(k))
  return log
}

describe('a value that holds', () => {
  it('is the last one sent, for as long as the heartbeat allows and a block', () => {
    const log = heldAfter({ medianNtu: 0.04, slotsNtu: [0.04, 0.05, NaN] })
    const held = [2, 3, 4, 5, 6].map(k => blockAt(log, at(k)))
    for (const block of held) expect(block?.slotsNtu[2]).toBeCloseTo(0.05, 6)
    expect(held.every(block => block !== undefined && isHeld(block) && block.count === 0)).toBe(true)
    expect(blockAt(log, at(6))?.endMs).toBe(at(1) + HOUR_MS + BLOCK_MS)
    expect(blockAt(log, at(7))).toBeUndefined()
    expect([1, 2, 7].map(k => isHeard(log, at(k)))).toEqual([true, false, false])
  })

  it('has the spread of its dead band: uniform, half-width/√3', () => {
    expect(blockAt(heldAfter({}), at(2))?.sigmaNtu).toBeCloseTo(0.006 / Math.sqrt(3), 7)
  })

  it('is none of an analyzer that sends at intervals, nor of a block that was flagged', () => {
    expect(blockAt(heldAfter({}, analyzerOf()), at(2))).toBeUndefined()
    for (const flags of Object.values(FLAG)) expect(blockAt(heldAfter({ flags }), at(2))).toBeUndefined()
  })

  it('is held anew behind a block that came late, and does not cover one that was heard', () => {
    const log = heldAfter({ medianNtu: 0.04 })
    putBlock(log, blockEnding(at(3), { medianNtu: 0.08 }))
    putBlock(log, blockEnding(at(5), { medianNtu: 0.06 }))
    holdValue(log, ON_CHANGE, at(3), at(6))
    expect([2, 3, 4, 5].map(k => Number(blockAt(log, at(k))?.medianNtu.toFixed(3)))).toEqual([0.04, 0.08, 0.08, 0.06])
  })
})
