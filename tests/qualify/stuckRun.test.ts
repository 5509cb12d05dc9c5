import { describe, expect, it } from 'vitest'
import { blockAt, FLAG, newBlockLog, putBlock } from '../../src/qualify/blockLog.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { flagStuckRun, stuckSince } from '../../src/qualify/stuckRun.js'
import { START_MS } from '../model/plantFixture.js'
import { blockEnding } from './blocks.js'

const at = (block: number) => START_MS + block * BLOCK_MS
const run = { medianNtu: 0.0431, sigmaNtu: 0 }

/** Two blocks of water, one in which the run began, seven of the run, then one that is known to be stuck. */
function log() {
  const blocks = newBlockLog()
  for (let k = 1; k <= 2; k++) putBlock(blocks, blockEnding(at(k), { medianNtu: 0.044 + 0.001 * k }))
  putBlock(blocks, blockEnding(at(3), { medianNtu: 0.0431, sigmaNtu: 0.0004 }))
  for (let k = 4; k <= 10; k++) putBlock(blocks, blockEnding(at(k), run))
  putBlock(blocks, blockEnding(at(11), { ...run, flags: FLAG.stuck }))
  return blocks
}

const flagged = (blocks: ReturnType<typeof log>): number[] =>
  [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11].filter(k => ((blockAt(blocks, at(k))?.flags ?? 0) & FLAG.stuck) !== 0)

describe('a stuck run', () => {
  it('is flagged back to where the equal blocks began, once', () => {
    const blocks = log()
    expect(flagStuckRun(blocks, at(11))).toBe(at(4))
    expect(flagged(blocks)).toEqual([4, 5, 6, 7, 8, 9, 10, 11])
    expect(blockAt(blocks, at(4))?.count).toBe(15)
    putBlock(blocks, blockEnding(at(12), { ...run, flags: FLAG.stuck }))
    expect(flagStuckRun(blocks, at(12))).toBe(at(12))
  })

  it('leaves a block alone that is not stuck', () => {
    const blocks = log()
    expect(flagStuckRun(blocks, at(10))).toBe(at(10))
    expect(flagged(blocks)).toEqual([11])
  })

  it('does not reach over a gap', () => {
    const blocks = newBlockLog()
    putBlock(blocks, blockEnding(at(1), run))
    putBlock(blocks, blockEnding(at(3), { ...run, flags: FLAG.stuck }))
    expect(flagStuckRun(blocks, at(3))).toBe(at(3))
  })

  it('lasts from its first flagged block, over silence too, until a block that is not stuck', () => {
    const blocks = log()
    expect(stuckSince(blocks, at(11), undefined)).toBe(at(10))
    expect(stuckSince(blocks, at(12), at(10))).toBe(at(10))
    expect(stuckSince(blocks, at(3), at(1))).toBeUndefined()
  })
})
