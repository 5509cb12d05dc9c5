import { type BlockLog, blockAt, FLAG } from '../qualify/blockLog.js'
import { BLOCK_MS } from '../qualify/openBlock.js'

/** A stuck run began where the medians became equal. @returns undefined where the block is not stuck */
export function stuckSince(log: BlockLog, endMs: number, known: number | undefined): number | undefined {
  const block = blockAt(log, endMs)
  if (block === undefined) return known
  if ((block.flags & FLAG.stuck) === 0) return undefined
  if (known !== undefined) return known
  let sinceMs = endMs - BLOCK_MS
  for (
    let before = blockAt(log, sinceMs);
    before?.medianNtu === block.medianNtu && before.sigmaNtu === 0;
    before = blockAt(log, sinceMs)
  )
    sinceMs -= BLOCK_MS
  return sinceMs
}
