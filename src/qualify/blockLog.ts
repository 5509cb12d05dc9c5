import { DAY_MS } from '../model/time.js'
import { BLOCK_MS } from './openBlock.js'

/** Blocks are kept this long: the reach of late facts. */
export const BLOCK_DAYS = 10
const CAPACITY = (BLOCK_DAYS * DAY_MS) / BLOCK_MS
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
  /** Median of the readings that count, NTU; NaN where none does. */
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

/** Ten days of blocks in packed columns, addressed by time: 25 bytes a block. */
export interface BlockLog {
  readonly ends: Float64Array
  readonly floats: Float32Array
  readonly counts: Uint16Array
  readonly bytes: Uint8Array
}

const FLOATS = 5

export function newBlockLog(): BlockLog {
  return {
    ends: new Float64Array(CAPACITY),
    floats: new Float32Array(CAPACITY * FLOATS),
    counts: new Uint16Array(CAPACITY),
    bytes: new Uint8Array(CAPACITY * 2),
  }
}

export function putBlock(log: BlockLog, block: Block): void {
  const i = indexOf(block.endMs)
  log.ends[i] = block.endMs
  log.floats.set([block.medianNtu, block.sigmaNtu, ...block.slotsNtu], i * FLOATS)
  log.counts[i] = Math.min(0xffff, block.count)
  log.bytes[2 * i] = Math.round(block.bubbleShare * 255)
  log.bytes[2 * i + 1] = block.flags
}

/** The block that ends at an instant, or undefined where no reading was heard in it (or it is older than ten days). */
export function blockAt(log: BlockLog, endMs: number): Block | undefined {
  const i = indexOf(endMs)
  if (log.ends[i] !== endMs) return undefined
  const at = i * FLOATS
  return {
    endMs,
    medianNtu: log.floats[at] ?? NaN,
    sigmaNtu: log.floats[at + 1] ?? NaN,
    slotsNtu: [log.floats[at + 2] ?? NaN, log.floats[at + 3] ?? NaN, log.floats[at + 4] ?? NaN],
    count: log.counts[i] ?? 0,
    bubbleShare: (log.bytes[2 * i] ?? 0) / 255,
    flags: log.bytes[2 * i + 1] ?? 0,
  }
}

function indexOf(endMs: number): number {
  const i = Math.floor(endMs / BLOCK_MS) % CAPACITY
  return i < 0 ? i + CAPACITY : i
}
