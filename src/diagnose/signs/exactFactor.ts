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
  /** The newest change that was looked into: it is not found twice. */
  seenMs: number
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
  return { found: null, seenMs: 0 }
}

/** A unit, the others of its point, and which blocks count. */
export interface FactorLook {
  readonly analyzer: Analyzer
  readonly log: BlockLog
  readonly others: readonly BlockLog[]
  /** Whether work, or a change of service, between two instants explains any change. */
  readonly isExplained: (fromMs: number, toMs: number) => boolean
}

/** Blocks looked at on each side of the one in which the change happened, and the nearest of them that tell the level. */
const SIDE = 12
const NEAREST = 4
/** A change below this is not looked into. */
const WORTH_A_LOOK = ln(1.6)
/** How near the factor must be, in logarithms: beside another unit at least and at most, and alone. */
const NEAR = { least: 0.02, most: 0.06, alone: 0.04 } as const
/** Alone, the water must have stood still on both sides: range over level. */
const STILL = 0.12
/** Noise must be scaled as the level is, in logarithms. */
const NOISE_ALIKE = 0.55

/**
 * Looks, three hours later, for a change by a simple factor within one block, with level and noise scaled alike. Beside
 * other units it shows whatever the water does; alone only where the water stood still, and the next grab samples or a
 * note of the display have to bear it out. Work on record explains any change.
 */
export function takeFactor(state: FactorState, look: FactorLook, endMs: number): void {
  const changedMs = endMs - SIDE * BLOCK_MS
  if (changedMs <= state.seenMs || !isWorthALook(look.log, changedMs)) return
  const change = changeAt(look, changedMs, endMs)
  if (change === undefined) return
  // A change inside a block shows at two block ends.
  state.seenMs = changedMs + BLOCK_MS
  const { found } = state
  if (found === null) state.found = change
  // Back by the same factor: it is over.
  else if (Math.abs(ln(found.factor * change.factor)) < 1e-9) state.found = null
}

function changeAt(look: FactorLook, changedMs: number, endMs: number): Found | undefined {
  const { analyzer, log, others, isExplained } = look
  const own = sides(log, changedMs)
  if (own === undefined || isExplained(changedMs - SIDE * BLOCK_MS, endMs)) return undefined
  if (!isAbrupt(own, blockAt(log, changedMs))) return undefined
  const compared = others.flatMap(other => sides(other, changedMs) ?? [])
  const factor = compared.length > 0 ? beside(own, compared) : alone(own)
  if (factor === undefined) return undefined
  const noise = noiseRatio(own, factor, analyzer)
  if (noise === undefined ? compared.length === 0 : Math.abs(ln(noise / factor)) > NOISE_ALIKE) return undefined
  return foundBetween(nearest(own), factor, changedMs, compared.length > 0)
}

/** Ratio to the other units: of two, the one whose own level changed. */
function beside(own: Sides, compared: readonly Sides[]): number | undefined {
  const mine = nearest(own)
  for (const theirs of compared.map(nearest)) {
    const before = mine.before.map((block, k) => ln(block.medianNtu / theirs.before[k]!.medianNtu))
    const after = mine.after.map((block, k) => ln(block.medianNtu / theirs.after[k]!.medianNtu))
    const ratio = median(after) - median(before)
    const factor = simpleFactor(ratio)
    const near = Math.min(NEAR.most, Math.max(NEAR.least, 2 * Math.max(madSigma(before), madSigma(after))))
    const isOwn = Math.abs(ln(level(mine.after) / level(mine.before))) >= Math.abs(ratio) / 2
    if (factor !== 1 && isOwn && Math.abs(ratio - ln(factor)) <= near) return factor
  }
  return undefined
}

function alone(own: Sides): number | undefined {
  const { before, after } = nearest(own)
  const ratio = ln(level(after) / level(before))
  const factor = simpleFactor(ratio)
  const isStill = range(before) <= STILL && range(after) <= STILL
  return factor !== 1 && isStill && Math.abs(ratio - ln(factor)) <= NEAR.alone ? factor : undefined
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
function sides(log: BlockLog, changedMs: number): Sides | undefined {
  const take = (fromMs: number): Block[] =>
    Array.from({ length: SIDE }, (_, k) => blockAt(log, fromMs + k * BLOCK_MS)).filter(
      block => block !== undefined && (block.flags & ~FLAG.stuck) === 0 && block.medianNtu > 0,
    ) as Block[]
  const before = take(changedMs - SIDE * BLOCK_MS)
  const after = take(changedMs + BLOCK_MS)
  return before.length === SIDE && after.length === SIDE ? { before, after } : undefined
}

function nearest({ before, after }: Sides): Sides {
  return { before: before.slice(-NEAREST), after: after.slice(0, NEAREST) }
}

/** Within five minutes: every slot of the block between stands at one level or at the other. */
function isAbrupt({ before, after }: Sides, between: Block | undefined): boolean {
  if (between === undefined) return true
  const levels = [ln(level(before.slice(-2))), ln(level(after.slice(0, 2)))]
  return between.slotsNtu.every(
    ntu => Number.isNaN(ntu) || (ntu > 0 && levels.some(one => Math.abs(ln(ntu) - one) < 0.25)),
  )
}

/** Noise after over noise before; undefined where it is no larger than the steps of the reading. */
function noiseRatio({ before, after }: Sides, factor: number, { resolutionNtu }: Analyzer): number | undefined {
  // The jump itself is no noise: the blocks next to it are left out.
  const [was, is] = [noise(before.slice(0, -1)), noise(after.slice(1))]
  return was < resolutionNtu || is < resolutionNtu * Math.min(1, factor) ? undefined : is / was
}

/** Spread inside the blocks plus the mean step between their five-minute medians. */
function noise(blocks: readonly Block[]): number {
  const slots = blocks.flatMap(block => block.slotsNtu).filter(ntu => !Number.isNaN(ntu))
  const steps = slots.slice(1).map((ntu, k) => Math.abs(ntu - slots[k]!))
  return mean(blocks.map(block => block.sigmaNtu)) + mean(steps)
}

function mean(values: readonly number[]): number {
  let sum = 0
  for (const value of values) sum += value
  return sum / Math.max(1, values.length)
}

function level(blocks: readonly Block[]): number {
  return median(blocks.map(block => block.medianNtu))
}

function range(blocks: readonly Block[]): number {
  const levels = blocks.map(block => block.medianNtu)
  return (Math.max(...levels) - Math.min(...levels)) / median(levels)
}

/** The nearest of the simple factors, 1 among them. */
function simpleFactor(logRatio: number): number {
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
