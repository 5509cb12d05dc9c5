import { type BlockLog, blockAt, FLAG, putBlock } from './blockLog.js'
import { BLOCK_MS } from './openBlock.js'

/**
 * A run is known to be stuck only after hours: what of it has been taken for calm readings is flagged afterwards, so that
 * nothing is learnt from it.
 * @returns end of the first block of the run that was not flagged yet, or of the block itself
 */
export function flagStuckRun(log: BlockLog, endMs: number): number {
  const block = blockAt(log, endMs)
  let firstMs = endMs
  if (block === undefined || (block.flags & FLAG.stuck) === 0) return firstMs
  for (let k = 1; ; k++) {
    const before = blockAt(log, endMs - k * BLOCK_MS)
    if (before?.medianNtu !== block.medianNtu || before.sigmaNtu !== 0 || (before.flags & FLAG.stuck) !== 0)
      return firstMs
    putBlock(log, { ...before, flags: before.flags | FLAG.stuck })
    firstMs = before.endMs
  }
}

/** Begin of the flagged run that ends with a block. @returns undefined where the block is not stuck */
export function stuckSince(log: BlockLog, endMs: number, known: number | undefined): number | undefined {
  const block = blockAt(log, endMs)
  if (block === undefined) return known
  if ((block.flags & FLAG.stuck) === 0) return undefined
  return known ?? endMs - BLOCK_MS
}
