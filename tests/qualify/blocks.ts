import { type Block, type BlockLog, newBlockLog, putBlock } from '../../src/qualify/blockLog.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'

/** A quiet block that counts. */
export function blockEnding(endMs: number, change: Partial<Block> = {}): Block {
  const medianNtu = change.medianNtu ?? 0.03
  return {
    endMs,
    medianNtu,
    sigmaNtu: 0.0005,
    slotsNtu: [medianNtu, medianNtu, medianNtu],
    count: 15,
    bubbleShare: 0,
    flags: 0,
    ...change,
  }
}

/** Blocks from an instant to another; the level is asked at the middle of each five-minute slot. */
export function logOf(fromMs: number, untilMs: number, levelNtu: (atMs: number) => number): BlockLog {
  const log = newBlockLog()
  for (let endMs = fromMs + BLOCK_MS; endMs <= untilMs; endMs += BLOCK_MS) {
    const at = (minutes: number) => levelNtu(endMs - BLOCK_MS + minutes * 60_000)
    putBlock(log, blockEnding(endMs, { medianNtu: at(7.5), slotsNtu: [at(2.5), at(7.5), at(12.5)] }))
  }
  return log
}
