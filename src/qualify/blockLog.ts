import { DAY_MS } from '../model/time.js'
import { BLOCK_MS } from './openBlock.js'

/** How late a fact may come and still be taken at its own time. */
export const REACH_DAYS = 10
/** Blocks are kept a day longer, since a rebuild begins at the daily snapshot before the fact. */
const CAPACITY = ((REACH_DAYS + 1) * DAY_MS) / BLOCK_MS
/** Five-minute medians inside a block: what a grab sample is compared with, also when it comes days later. */
export const SLOTS = 3

/** Bits of a block's flags. */
export const FLAG = {
  /** Some reading said maintenance or calibrating. */
  inWork: 1,
  stuck: 2,
  levelNotRecoverable: 4,
  /** The feed was down or catching up: silence is not the analyzer's. */
  feedDown: 8,
  noFlow: 16,
  beyondRange: 32,
  badQuality: 64,
  fault: 128,
} as const

/** One 15-minute block of one analyzer. Values are float32 numbers, since that is what is kept. */
export interface Block {
  readonly endMs: number
  /** Median of the readings that count, NTU; where none does, of those without sample flow, or a value that holds, else NaN. */
  readonly medianNtu: number
  /** MAD-sigma of the same. */
  readonly sigmaNtu: number
  /** Medians of the three five-minute slots, NaN where empty. */
  readonly slotsNtu: readonly [number, number, number]
  /** Readings that count. */
  readonly count: number
  /** Share of readings raised by bubbles in the hour up to the block's end. */
  readonly bubbleShare: number
  readonly flags: number
}

/** Eleven days of blocks in packed columns, addressed by time: 27 bytes a block. */
export interface BlockLog {
  /** Number of the block since 1970, 0 where none was put yet. */
  readonly numbers: Uint32Array
  readonly floats: Float32Array
  /** Readings that count (255 stands for more), bubble share in 255ths, flags. */
  readonly bytes: Uint8Array
}

const FLOATS = 5
const BYTES = 3

export function newBlockLog(): BlockLog {
  return {
    numbers: new Uint32Array(CAPACITY),
    floats: new Float32Array(CAPACITY * FLOATS),
    bytes: new Uint8Array(CAPACITY * BYTES),
  }
}

/** Puts a block in its place; one older than what stands there is not kept. */
export function putBlock(log: BlockLog, block: Block): void {
  const number = Math.floor(block.endMs / BLOCK_MS)
  const i = number % CAPACITY
  if ((log.numbers[i] ?? 0) > number) return
  log.numbers[i] = number
  log.floats.set([block.medianNtu, block.sigmaNtu, ...block.slotsNtu], i * FLOATS)
  log.bytes.set([Math.min(255, block.count), Math.round(block.bubbleShare * 255), block.flags], i * BYTES)
}

/** The block that ends at an instant, or undefined where no reading was heard in it (or it is older than eleven days). */
export function blockAt(log: BlockLog, endMs: number): Block | undefined {
  const number = Math.floor(endMs / BLOCK_MS)
  const i = number % CAPACITY
  if (number <= 0 || log.numbers[i] !== number) return undefined
  const at = i * FLOATS
  return {
    endMs,
    medianNtu: log.floats[at] ?? NaN,
    sigmaNtu: log.floats[at + 1] ?? NaN,
    slotsNtu: [log.floats[at + 2] ?? NaN, log.floats[at + 3] ?? NaN, log.floats[at + 4] ?? NaN],
    count: log.bytes[BYTES * i] ?? 0,
    bubbleShare: (log.bytes[BYTES * i + 1] ?? 0) / 255,
    flags: log.bytes[BYTES * i + 2] ?? 0,
  }
}
