import { DAY_MS } from '../model/time.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { type BlockLog, blockAt } from '../qualify/blockLog.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { median, quantile } from '../statistics/robust.js'

/** One analyzer's day: what the slow lines of evidence look at. NTU. */
export interface UnitDay {
  /** 15-minute blocks that counted. */
  readonly n: number
  /** The cleanest water of the day: low quantile of the blocks in service. */
  readonly floorNtu: number
  readonly medianNtu: number
}

/** A day at a point; kept for six weeks. */
export interface PointDay {
  readonly endMs: number
  /** Mean flow of the blocks in service; null where none is sent. */
  readonly flowM3h: number | null
  /** By unit; null where too few blocks counted. */
  readonly units: readonly (UnitDay | null)[]
}

/** The day in hand, by unit: which blocks count, 24 to a number, and the flow at the point. Plain data. */
export interface DayInHand {
  usable: number[][]
  /** As last sent; null before. */
  flowM3h: number | null
  flowSum: number
  flowBlocks: number
}

const FLOOR_QUANTILE = 0.1
/** Fewer blocks than six hours' are no day. */
const LEAST_BLOCKS = 24
const BITS = 24
const WORDS = DAY_MS / BLOCK_MS / BITS

export function newDayInHand(units: number): DayInHand {
  return { usable: emptyMarks(units), flowM3h: null, flowSum: 0, flowBlocks: 0 }
}

function emptyMarks(units: number): number[][] {
  return Array.from({ length: units }, () => new Array<number>(WORDS).fill(0))
}

/** Takes one block of a point. @param counts by unit */
export function takeBlock(day: DayInHand, endMs: number, counts: readonly boolean[], inService: boolean): void {
  const slot = ((endMs - BLOCK_MS) % DAY_MS) / BLOCK_MS
  const [word, bit] = [Math.floor(slot / BITS), slot % BITS]
  counts.forEach((isUsable, unit) => {
    const marks = day.usable[unit]
    if (isUsable && marks !== undefined) marks[word] = (marks[word] ?? 0) | (1 << bit)
  })
  if (!inService || day.flowM3h === null) return
  day.flowSum += day.flowM3h
  day.flowBlocks += 1
}

/** Condenses the day that ends at `endMs` and begins the next one. */
export function closeDay(day: DayInHand, endMs: number, logs: readonly BlockLog[]): PointDay {
  const closed = {
    endMs,
    flowM3h: day.flowBlocks === 0 ? null : roundTo(day.flowSum / day.flowBlocks, 1),
    units: logs.map((log, unit) => condense(log, endMs, day.usable[unit] ?? [])),
  }
  Object.assign(day, { usable: emptyMarks(logs.length), flowSum: 0, flowBlocks: 0 })
  return closed
}

function condense(log: BlockLog, endMs: number, marks: readonly number[]): UnitDay | null {
  const levels = Array.from({ length: WORDS * BITS }, (_, slot) => {
    const isUsable = ((marks[Math.floor(slot / BITS)] ?? 0) & (1 << (slot % BITS))) !== 0
    return isUsable ? blockAt(log, endMs - DAY_MS + (slot + 1) * BLOCK_MS)?.medianNtu : undefined
  }).filter(ntu => ntu !== undefined)
  if (levels.length < LEAST_BLOCKS) return null
  return {
    n: levels.length,
    floorNtu: roundTo(quantile(levels, FLOOR_QUANTILE), DIGITS.ntu),
    medianNtu: roundTo(median(levels), DIGITS.ntu),
  }
}
