import type { Reading } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { MINUTE_MS } from '../model/time.js'
import { methodOf, toWholeUnit } from '../model/units.js'
import type { Exclusion } from '../model/vocabulary.js'

/** Length of a block. Blocks are aligned to the hour; a reading on the boundary belongs to the block it begins. */
export const BLOCK_MS = 15 * MINUTE_MS

/**
 * Readings of one block as they came, in any order, until the block closes. Plain data, one entry a reading; this is
 * the reordering buffer, so nothing is decided here that depends on the order of arrival.
 */
export interface OpenBlock {
  readonly endMs: number
  readonly timesMs: number[]
  readonly valuesNtu: number[]
  /** Why the reading by itself does not count; empty where it does. */
  readonly reasons: (Exclusion | '')[]
  readonly lightPct: (number | null)[]
}

export function openBlock(endMs: number): OpenBlock {
  return { endMs, timesMs: [], valuesNtu: [], reasons: [], lightPct: [] }
}

export function blockEnd(atMs: number): number {
  return (Math.floor(atMs / BLOCK_MS) + 1) * BLOCK_MS
}

/**
 * Puts a reading in. @returns false where the same is there already: time, value and what they are judged by. The same
 * value under another state is a conflict, or which of the two counts would hang on the order of arrival.
 */
export function addReading(block: OpenBlock, reading: Reading, analyzer: Analyzer): boolean {
  const valueNtu = toWholeUnit(reading.value, reading.unit)
  const reason = reasonAgainst(reading, valueNtu, analyzer)
  const lightPct = reading.lightSourcePct ?? null
  for (let i = block.timesMs.length - 1; i >= 0; i--) {
    if (
      block.timesMs[i] === reading.atMs &&
      block.valuesNtu[i] === valueNtu &&
      block.reasons[i] === reason &&
      block.lightPct[i] === lightPct
    )
      return false
  }
  block.timesMs.push(reading.atMs)
  block.valuesNtu.push(valueNtu)
  block.reasons.push(reason)
  block.lightPct.push(lightPct)
  return true
}

/** The gates a reading can be judged by alone: unit, state, quality, range, flow, in this order. */
function reasonAgainst(reading: Reading, valueNtu: number, analyzer: Analyzer): Exclusion | '' {
  if (methodOf(reading.unit) !== analyzer.method) return 'method_differs'
  if (reading.state === 'maintenance') return 'state_maintenance'
  if (reading.state === 'calibrating') return 'state_calibrating'
  if (reading.state === 'fault') return 'state_fault'
  if (reading.quality === 'bad') return 'quality_bad'
  if (isBeyondRange(valueNtu, analyzer)) return 'beyond_range'
  if (hasNoFlow(reading.flowLMin, analyzer.minFlowLMin)) return 'no_flow'
  return ''
}

/** No flow at all is none whatever the register says; below its least flow a sample is not judged fit either. */
function hasNoFlow(flowLMin: number | undefined, minFlowLMin: number | undefined): boolean {
  if (flowLMin === undefined) return false
  return flowLMin === 0 || (minFlowLMin !== undefined && flowLMin < minFlowLMin)
}

/**
 * At the upper end of the range an analyzer holds, and far beyond it readings can fall again, so the end itself is a
 * hold. Small negatives are an honest zero error and stay: down to one absolute tolerance below the range.
 */
function isBeyondRange(valueNtu: number, analyzer: Analyzer): boolean {
  const [least, most] = analyzer.rangeNtu
  return valueNtu >= most || valueNtu < least - Math.max(analyzer.tolerance.absoluteNtu * 4, 0.01 * (most - least))
}
