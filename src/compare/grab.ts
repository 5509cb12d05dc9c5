import { kept } from '../model/rounding.js'
import type { Grab } from '../model/messages.js'
import type { Analyzer, GrabPlan } from '../model/plant.js'
import { HOUR_MS, MINUTE_MS, SECOND_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { toWholeUnit } from '../model/units.js'
import { type Block, type BlockLog, blockAt, SLOTS } from '../qualify/blockLog.js'
import { BLOCK_MS, blockEnd } from '../qualify/openBlock.js'
import { theilSen } from '../statistics/theilSen.js'
import type { PairUnit } from './pair.js'

/** The standard deviation of rounding to a step, over the step. */
const ROUNDING = 1 / Math.sqrt(12)
/** Half width of the window round sampling time + transport delay. */
const HALF_WINDOW_MS = 5 * MINUTE_MS
const SLOT_MS = BLOCK_MS / SLOTS
/** Blocks up to the pair's own over which the process's rate of change is taken. */
const SLOPE_BLOCKS = 3

/** End of the block with which the comparison of a grab can be made at all units of the point. */
export function pairDueMs(analyzers: readonly Analyzer[], sampledMs: number): number {
  const delayMs = Math.max(0, ...analyzers.map(analyzer => analyzer.transportDelayS * SECOND_MS))
  return blockEnd(sampledMs + delayMs + HALF_WINDOW_MS - 1)
}

/**
 * Compares a grab sample with one unit: robust mean of the five-minute medians ±5 min round sampling time plus
 * transport delay. u² = laboratory² + window² + (slope · time uncertainty)², design of the grab line.
 * @param usable whether the block that ends at an instant counts
 * @param endMs newest block that may be looked at, so that a late grab sees what a punctual one saw
 * @returns undefined where the unit has no usable block there
 */
export function comparePairUnit(
  grab: Grab,
  plan: GrabPlan,
  analyzer: Analyzer,
  log: BlockLog,
  usable: (endMs: number) => boolean,
  endMs: number,
): PairUnit | undefined {
  const centreMs = grab.sampledMs + analyzer.transportDelayS * SECOND_MS
  const window = readWindow(centreMs, log, usable)
  if (window === undefined) return undefined
  const grabNtu = toWholeUnit(grab.value, grab.unit)
  const slopeNtuPerS = processSlope(log, endMs)
  const uTime = slopeNtuPerS * plan.timeUncertaintyS
  const variance = laboratoryVariance(grab, grabNtu, plan) + window.variance + uTime * uTime
  // A result stated without any uncertainty is still read off a signal with steps.
  const uNtu = Math.max(Math.sqrt(variance), ROUNDING * analyzer.resolutionNtu)
  const toleranceNtu = toleranceAt(analyzer.tolerance, window.ntu)
  return {
    ntu: kept(window.ntu),
    uNtu: kept(uNtu),
    toleranceNtu: kept(toleranceNtu),
    rateNtuPerH: kept((slopeNtuPerS * HOUR_MS) / SECOND_MS),
    high: 0,
    low: 0,
    limit: 0,
  }
}

/**
 * A sample whose local time came twice, compared at both instants: one comparison where the two say the same within
 * their standard uncertainty, which then takes half of what they differ by; undefined where they do not.
 */
export function oneOfBothTimes(first: PairUnit, second: PairUnit): PairUnit | undefined {
  const halfNtu = Math.abs(first.ntu - second.ntu) / 2
  if (2 * halfNtu > Math.min(first.uNtu, second.uNtu)) return undefined
  const uNtu = Math.max(first.uNtu, second.uNtu)
  return {
    ...first,
    ntu: kept((first.ntu + second.ntu) / 2),
    uNtu: kept(Math.sqrt(uNtu * uNtu + halfNtu * halfNtu)),
    toleranceNtu: Math.min(first.toleranceNtu, second.toleranceNtu),
  }
}

/**
 * Whether the comparison is more uncertain than the tolerance. The laboratory's part counts at the reading's level where
 * the result is higher: a bottle with other water is a wrong bottle, not an uncertain one.
 */
export function isTooUncertain(grab: Grab, plan: GrabPlan, { ntu, uNtu, toleranceNtu }: PairUnit): boolean {
  const grabNtu = toWholeUnit(grab.value, grab.unit)
  const own = laboratoryVariance(grab, grabNtu, plan) - laboratoryVariance(grab, Math.min(grabNtu, ntu), plan)
  return uNtu * uNtu - own > toleranceNtu * toleranceNtu
}

/** Random part of the laboratory's variance: stated with the result, or planned for the point; steps add step²/12. */
export function laboratoryVariance(
  grab: Pick<Grab, 'unit' | 'standardUncertainty' | 'replicates'>,
  grabNtu: number,
  plan: GrabPlan,
): number {
  const step = (plan.resolutionNtu * plan.resolutionNtu) / 12
  if (grab.standardUncertainty !== undefined) {
    const stated = toWholeUnit(grab.standardUncertainty, grab.unit)
    return stated * stated + step
  }
  const proportional = plan.relative * Math.max(0, grabNtu)
  return (
    (plan.standardUncertaintyNtu * plan.standardUncertaintyNtu + proportional * proportional) / (grab.replicates ?? 1) +
    step
  )
}

function readWindow(
  centreMs: number,
  log: BlockLog,
  usable: (endMs: number) => boolean,
): { ntu: number; variance: number } | undefined {
  const fromMs = centreMs - HALF_WINDOW_MS
  const toMs = centreMs + HALF_WINDOW_MS
  let weights = 0
  let sum = 0
  let noise = 0
  for (let endMs = blockEnd(fromMs); endMs - BLOCK_MS < toMs; endMs += BLOCK_MS) {
    const block = blockAt(log, endMs)
    if (block === undefined || !usable(endMs)) return undefined
    for (const [slot, ntu] of block.slotsNtu.entries()) {
      const slotFromMs = endMs - BLOCK_MS + slot * SLOT_MS
      const overlapMs = Math.min(toMs, slotFromMs + SLOT_MS) - Math.max(fromMs, slotFromMs)
      if (overlapMs <= 0 || Number.isNaN(ntu)) continue
      weights += overlapMs
      sum += overlapMs * ntu
      noise = Math.max(noise, noiseVariance(block))
    }
  }
  return weights > 0 ? { ntu: sum / weights, variance: noise } : undefined
}

/** Variance of a ten-minute mean from the block's own spread. */
function noiseVariance(block: Block): number {
  const readings = Math.max(1, (block.count * 2) / SLOTS)
  return (block.sigmaNtu * block.sigmaNtu) / readings
}

function processSlope(log: BlockLog, endMs: number): number {
  const seconds: number[] = []
  const valuesNtu: number[] = []
  for (let k = SLOPE_BLOCKS - 1; k >= 0; k--) {
    const block = blockAt(log, endMs - k * BLOCK_MS)
    block?.slotsNtu.forEach((ntu, slot) => {
      if (Number.isNaN(ntu)) return
      seconds.push(((SLOPE_BLOCKS - 1 - k) * BLOCK_MS + slot * SLOT_MS) / SECOND_MS)
      valuesNtu.push(ntu)
    })
  }
  if (valuesNtu.length < 4) return 0
  return Math.abs(theilSen(seconds, valuesNtu).slope)
}

/** Two bottles within this time count once. */
export const SAME_BOTTLE_MS = HOUR_MS / 2
