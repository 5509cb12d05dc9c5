import type { Analyzer } from '../model/plant.js'
import { SECOND_MS } from '../model/time.js'
import { type Block, type BlockLog, blockAt, putBlock } from './blockLog.js'
import { BLOCK_MS } from './openBlock.js'

/** A block in which an analyzer that sends on change sent nothing: its last value holds. It has a level and no readings. */
export function isHeld(block: Block): boolean {
  return block.count === 0 && block.flags === 0 && !Number.isNaN(block.medianNtu)
}

/** Whether readings came in the block that ends at an instant. */
export function isHeard(log: BlockLog, endMs: number): boolean {
  const block = blockAt(log, endMs)
  return block !== undefined && !isHeld(block)
}

/**
 * Holds the last value over the blocks after `fromMs` up to `untilMs` in which nothing came, for as long as the
 * heartbeat allows. What was held before is held anew: a reading that came late may have changed it.
 * @param fromMs end of a block
 */
export function holdValue(log: BlockLog, { transmission }: Analyzer, fromMs: number, untilMs: number): void {
  if (transmission.mode !== 'on_change') return
  const longestMs = (Math.ceil((transmission.heartbeatS * SECOND_MS) / BLOCK_MS) + 1) * BLOCK_MS
  // Within the dead band every level is as likely: a uniform spread.
  const sigmaNtu = Math.fround(transmission.deadbandNtu / Math.sqrt(3))
  for (let endMs = fromMs + BLOCK_MS; endMs <= untilMs && !isHeard(log, endMs); endMs += BLOCK_MS) {
    const block = heldBlock(log, endMs, longestMs, sigmaNtu)
    if (block !== undefined) putBlock(log, block)
  }
}

function heldBlock(log: BlockLog, endMs: number, longestMs: number, sigmaNtu: number): Block | undefined {
  for (let lastMs = endMs - BLOCK_MS; lastMs >= endMs - longestMs; lastMs -= BLOCK_MS) {
    const block = blockAt(log, lastMs)
    if (block === undefined || isHeld(block)) continue
    const valueNtu = block.slotsNtu.findLast(ntu => !Number.isNaN(ntu))
    if (block.flags !== 0 || valueNtu === undefined) return undefined
    return {
      endMs,
      medianNtu: valueNtu,
      sigmaNtu,
      slotsNtu: [valueNtu, valueNtu, valueNtu],
      count: 0,
      bubbleShare: 0,
      flags: 0,
    }
  }
  return undefined
}
