import { kept } from '../../model/rounding.js'
import type { Analyzer } from '../../model/plant.js'
import { type Block, type BlockLog, blockAt, FLAG } from '../../qualify/blockLog.js'
import { BLOCK_MS } from '../../qualify/openBlock.js'
import { ln } from '../../statistics/distributions.js'
import { madSigma, median } from '../../statistics/robust.js'
import type { SignOf } from './sign.js'

/** Factors that a wrong range, decimal place or unit in the signal path makes (common practice, no source). */
export const SIMPLE_FACTORS = [2, 4, 5, 10, 100, 1_000].flatMap(factor => [factor, 1 / factor])

/** The factor by which a unit's values have changed at once; null while they have not. Plain data. */
export interface FactorState {
  found: Found | null
}

interface Found {
  readonly factor: number
  readonly sinceMs: number
  /** Levels of the hour before and after. */
  readonly beforeNtu: number
  readonly afterNtu: number
  readonly borneOut: boolean
}

export function newFactorState(): FactorState {
  return { found: null }
}

/** A unit, the others of its point, and which blocks count. */
export interface FactorLook {
  readonly analyzer: Analyzer
  readonly log: BlockLog
  readonly others: readonly BlockLog[]
  /** Whether work, or a change of service, between two instants explains any change. */
  readonly isExplained: (fromMs: number, toMs: number) => boolean
}

/** Blocks looked at on each side of the one in which the change happened: beside other units, and alone. */
const BESIDE = 4
const ALONE = 12
/** A change below this is not looked into. */
const WORTH_A_LOOK = ln(1.6)
/** How near the factor must be, in logarithms: beside another unit at most, and alone. */
const NEAR = { least: 0.02, most: 0.06, alone: 0.04 } as const
/** Alone, the water must have stood still on both sides, range over level, and noise must be scaled as the level is. */
const STILL = 0.12
const NOISE_ALIKE = 0.5

/**
 * Looks for a change by a simple factor within one block, with level and noise scaled alike: beside the other units it
 * shows after an hour, whatever the water does; alone only where the water stood still, after three hours, and the next
 * grab sample or a note of the display has to bear it out. Work on record explains any change.
 */
export function takeFactor(state: FactorState, look: FactorLook, endMs: number): void {
  const change = beside(look, endMs) ?? alone(look, endMs)
  if (change === undefined) return
  const { found } = state
  if (found === null) state.found = change
  // Back by the same factor: it is over.
  else if (Math.abs(ln(found.factor * change.factor)) < 1e-9) state.found = null
}

function beside({ analyzer, log, others, isExplained }: FactorLook, endMs: number): Found | undefined {
  const changedMs = endMs - BESIDE * BLOCK_MS
  if (!isWorthALook(log, changedMs)) return undefined
  const own = sides(log, changedMs, BESIDE)
  if (own === undefined || isExplained(changedMs - BESIDE * BLOCK_MS, endMs)) return undefined
  for (const other of others) {
    const theirs = sides(other, changedMs, BESIDE)
    if (theirs === undefined) continue
    const before = own.before.map((block, k) => ln(block.medianNtu / theirs.before[k]!.medianNtu))
    const after = own.after.map((block, k) => ln(block.medianNtu / theirs.after[k]!.medianNtu))
    const ratio = median(after) - median(before)
    const factor = nearest(ratio)
    const spread = Math.max(madSigma(before), madSigma(after))
    const near = Math.min(NEAR.most, Math.max(NEAR.least, 2 * spread))
    // Of two units the one whose own level changed.
    const alone = ln(level(own.after) / level(own.before))
    // Units that moved together say nothing of a factor.
    if (factor === 1 || Math.abs(ratio - ln(factor)) > near || Math.abs(alone) < Math.abs(ratio) / 2) continue
    if (isAbrupt(own, blockAt(log, changedMs)) && isNoiseAlike(own, factor, analyzer, 2 * NOISE_ALIKE))
      return foundBetween(own, factor, changedMs, true)
  }
  return undefined
}

function alone({ analyzer, log, isExplained }: FactorLook, endMs: number): Found | undefined {
  const changedMs = endMs - ALONE * BLOCK_MS
  if (!isWorthALook(log, changedMs)) return undefined
  const own = sides(log, changedMs, ALONE)
  if (own === undefined || isExplained(changedMs - ALONE * BLOCK_MS, endMs)) return undefined
  const near = { before: own.before.slice(-BESIDE), after: own.after.slice(0, BESIDE) }
  const ratio = ln(level(near.after) / level(near.before))
  const factor = nearest(ratio)
  const isStill = range(near.before) <= STILL && range(near.after) <= STILL
  if (!isStill || Math.abs(ratio - ln(factor)) > NEAR.alone) return undefined
  if (!isAbrupt(own, blockAt(log, changedMs)) || !isNoiseAlike(own, factor, analyzer, NOISE_ALIKE)) return undefined
  return foundBetween(near, factor, changedMs, false)
}

function foundBetween({ before, after }: Sides, factor: number, changedMs: number, borneOut: boolean): Found {
  const levels = { beforeNtu: kept(level(before)), afterNtu: kept(level(after)) }
  return { factor, sinceMs: changedMs - BLOCK_MS, ...levels, borneOut }
}

/** Whether the level two blocks apart differs as much as the smallest factor would make it. */
function isWorthALook(log: BlockLog, changedMs: number): boolean {
  const before = blockAt(log, changedMs - BLOCK_MS)?.medianNtu ?? NaN
  const after = blockAt(log, changedMs + BLOCK_MS)?.medianNtu ?? NaN
  return before > 0 && after > 0 && Math.abs(ln(after / before)) > WORTH_A_LOOK
}

interface Sides {
  readonly before: readonly Block[]
  readonly after: readonly Block[]
}

/** Blocks on both sides of the one that ends at `changedMs`, in order of time; all must count. */
function sides(log: BlockLog, changedMs: number, each: number): Sides | undefined {
  const take = (fromMs: number): Block[] =>
    Array.from({ length: each }, (_, k) => blockAt(log, fromMs + k * BLOCK_MS)).filter(
      block => block !== undefined && (block.flags & ~FLAG.stuck) === 0 && block.medianNtu > 0,
    ) as Block[]
  const before = take(changedMs - each * BLOCK_MS)
  const after = take(changedMs + BLOCK_MS)
  return before.length === each && after.length === each ? { before, after } : undefined
}

/** Within five minutes: every slot of the block between stands at one level or at the other. */
function isAbrupt({ before, after }: Sides, between: Block | undefined): boolean {
  if (between === undefined) return true
  const levels = [ln(level(before.slice(-2))), ln(level(after.slice(0, 2)))]
  return between.slotsNtu.every(
    ntu => Number.isNaN(ntu) || (ntu > 0 && levels.some(one => Math.abs(ln(ntu) - one) < 0.25)),
  )
}

/** Noise from successive five-minute medians; where it is no larger than the steps of the reading it says nothing. */
function isNoiseAlike({ before, after }: Sides, factor: number, { resolutionNtu }: Analyzer, within: number): boolean {
  const [was, is] = [noise(before), noise(after)]
  if (was < resolutionNtu || is < resolutionNtu) return was * factor < 2 * resolutionNtu || was < resolutionNtu
  return Math.abs(ln(is / was) - ln(factor)) <= within
}

function noise(blocks: readonly Block[]): number {
  const slots = blocks.flatMap(block => block.slotsNtu).filter(ntu => !Number.isNaN(ntu))
  let sum = 0
  for (let k = 1; k < slots.length; k++) sum += Math.abs(slots[k]! - slots[k - 1]!)
  return slots.length > 1 ? sum / (slots.length - 1) : 0
}

function level(blocks: readonly Block[]): number {
  return median(blocks.map(block => block.medianNtu))
}

function range(blocks: readonly Block[]): number {
  const levels = blocks.map(block => block.medianNtu)
  return (Math.max(...levels) - Math.min(...levels)) / median(levels)
}

function nearest(logRatio: number): number {
  let best = 1
  for (const factor of SIMPLE_FACTORS)
    if (Math.abs(ln(factor) - logRatio) < Math.abs(ln(best) - logRatio)) best = factor
  return best
}

/**
 * A grab sample after the change: the water did not change by the factor, or it did and the signal is right.
 * @param ratioBefore reading over grab sample before the change, from a few pairs
 * @param uRel relative standard uncertainty of this pair
 */
export function judgeFactor(state: FactorState, ratioBefore: number, ratioNow: number, uRel: number): void {
  const { found } = state
  if (found === null || ratioBefore <= 0 || ratioNow <= 0) return
  const moved = ln(ratioNow / ratioBefore)
  const asFound = Math.abs(moved - ln(found.factor))
  if (asFound < Math.abs(moved) && Math.abs(moved) > 2 * uRel) state.found = { ...found, borneOut: true }
  else if (asFound > 2 * uRel && !found.borneOut) state.found = null
}

export function factorSign({ found }: FactorState): SignOf<'exact_factor'> | undefined {
  if (found === null) return undefined
  const { factor, sinceMs, beforeNtu, afterNtu, borneOut } = found
  return { kind: 'exact_factor', factor, sinceMs, beforeNtu, afterNtu, borneOut }
}
