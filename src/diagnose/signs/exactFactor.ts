import type { Analyzer } from '../../model/plant.js'
import { kept } from '../../model/rounding.js'
import { toleranceAt } from '../../model/tolerance.js'
import { type BlockLog, blockAt } from '../../qualify/blockLog.js'
import { BLOCK_MS } from '../../qualify/openBlock.js'
import { ln } from '../../statistics/distributions.js'
import { madSigma, median } from '../../statistics/robust.js'
import { isAbrupt, level, nearest, noiseRatio, range, SIDE, type Sides, sides } from './blockSides.js'
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
  /** Grab samples in a row that the reading agrees with as it did before the change. */
  readonly backAtScale: number
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

/** A change below this is not looked into. */
const WORTH_A_LOOK = ln(1.6)
/** How near the factor must be, in logarithms: beside another unit at least and at most, and alone. */
const NEAR = { least: 0.02, most: 0.06, alone: 0.04 } as const
/** The change must matter, tolerances, and both levels be so many steps of the reading that rounding does not make it. */
const LEAST_CHANGE = 0.5
const LEAST_STEPS = 12
/** Alone, the water must have stood still on both sides: range over level. */
const STILL = 0.12
/** Noise must be scaled as the level is, in logarithms. */
const NOISE_ALIKE = 0.55

/** Grab samples in a row that must show the values back at their scale, where their return itself was not seen. */
const BACK_AT_SCALE = 2

/**
 * Looks, three hours later, for a change by a simple factor within one block, with level and noise scaled alike. Beside
 * other units it shows whatever the water does; alone only where the water stood still, and the next grab samples or a
 * note of the display have to bear it out. Work on record explains any change but the one back.
 */
export function takeFactor(state: FactorState, look: FactorLook, endMs: number): void {
  const changedMs = endMs - SIDE * BLOCK_MS
  if (changedMs <= state.seenMs || !isWorthALook(look.log, changedMs)) return
  const change = changeAt(look, changedMs)
  if (change === undefined) return
  const { found } = state
  if (found === null && look.isExplained(changedMs - SIDE * BLOCK_MS, endMs)) return
  // A change inside a block shows at two block ends.
  state.seenMs = changedMs + BLOCK_MS
  if (found === null) state.found = change
  // Back by the same factor, as a rule with work on record: it is over.
  else if (Math.abs(ln(found.factor * change.factor)) < 1e-9) state.found = null
}

function changeAt(look: FactorLook, changedMs: number): Found | undefined {
  const { analyzer, log, others } = look
  const own = sides(log, changedMs)
  if (own === undefined) return undefined
  if (!isLarge(own, analyzer) || !isAbrupt(own, blockAt(log, changedMs))) return undefined
  const compared = others.flatMap(other => sides(other, changedMs) ?? [])
  const factor = compared.length > 0 ? beside(own, compared) : alone(own)
  if (factor === undefined) return undefined
  const noise = noiseRatio(own, factor, analyzer)
  if (noise === undefined ? compared.length === 0 : Math.abs(ln(noise / factor)) > NOISE_ALIKE) return undefined
  return foundBetween(nearest(own), factor, changedMs, compared.length > 0)
}

function isLarge(own: Sides, { tolerance, resolutionNtu }: Analyzer): boolean {
  const { before, after } = nearest(own)
  const [was, is] = [level(before), level(after)]
  const smaller = Math.min(was, is)
  return Math.abs(is - was) >= LEAST_CHANGE * toleranceAt(tolerance, smaller) && smaller >= LEAST_STEPS * resolutionNtu
}

/** Ratio to the other units: of two, the one whose own level changed. */
function beside(own: Sides, compared: readonly Sides[]): number | undefined {
  const mine = nearest(own)
  for (const theirs of compared.map(nearest)) {
    const before = mine.before.map((block, k) => ln(block.medianNtu / theirs.before[k]!.medianNtu))
    const after = mine.after.map((block, k) => ln(block.medianNtu / theirs.after[k]!.medianNtu))
    const ratio = median(after) - median(before)
    const factor = simpleFactor(ratio)
    const spread = Math.max(madSigma(before), madSigma(after))
    // Where the ratio itself wavers as much, it is near everything.
    if (spread > NEAR.most) continue
    const near = Math.min(NEAR.most, Math.max(NEAR.least, 2 * spread))
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
  return { factor, sinceMs: changedMs - BLOCK_MS, ...levels, borneOut, backAtScale: 0 }
}

/** Whether the level two blocks apart differs as much as the smallest factor would make it. */
function isWorthALook(log: BlockLog, changedMs: number): boolean {
  const before = blockAt(log, changedMs - BLOCK_MS)?.medianNtu ?? NaN
  const after = blockAt(log, changedMs + BLOCK_MS)?.medianNtu ?? NaN
  return before > 0 && after > 0 && Math.abs(ln(after / before)) > WORTH_A_LOOK
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

/**
 * A grab sample after a change that was borne out, while the values are left out: mending seldom leaves the signal
 * whole, so that the step back is not always seen.
 */
export function judgeReturn(state: FactorState, ratioBefore: number, ratioNow: number): void {
  const { found } = state
  if (found?.borneOut !== true || ratioBefore <= 0 || ratioNow <= 0) return
  const moved = ln(ratioNow / ratioBefore)
  const isBack = 2 * Math.abs(moved) < Math.abs(moved - ln(found.factor))
  const backAtScale = isBack ? found.backAtScale + 1 : 0
  state.found = backAtScale >= BACK_AT_SCALE ? null : { ...found, backAtScale }
}

export function factorSign({ found }: FactorState): SignOf<'exact_factor'> | undefined {
  if (found === null) return undefined
  const { factor, sinceMs, beforeNtu, afterNtu, borneOut } = found
  return { kind: 'exact_factor', factor, sinceMs, beforeNtu, afterNtu, borneOut }
}
