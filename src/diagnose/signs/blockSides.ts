import type { Analyzer } from '../../model/plant.js'
import { type Block, type BlockLog, blockAt, FLAG } from '../../qualify/blockLog.js'
import { BLOCK_MS } from '../../qualify/openBlock.js'
import { ln } from '../../statistics/distributions.js'
import { median } from '../../statistics/robust.js'
import { mean } from '../../statistics/mean.js'

/** Blocks looked at on each side of the one in which a change happened, and the nearest of them that tell the level. */
export const SIDE = 12
const NEAREST = 4

/** Blocks on both sides of a change, in order of time. */
export interface Sides {
  readonly before: readonly Block[]
  readonly after: readonly Block[]
}

/** Blocks on both sides of the one that ends at `changedMs`, in order of time; all must count. */
export function sides(log: BlockLog, changedMs: number): Sides | undefined {
  const take = (fromMs: number): Block[] =>
    Array.from({ length: SIDE }, (_, k) => blockAt(log, fromMs + k * BLOCK_MS)).filter(
      block => block !== undefined && (block.flags & ~FLAG.stuck) === 0 && block.medianNtu > 0,
    ) as Block[]
  const before = take(changedMs - SIDE * BLOCK_MS)
  const after = take(changedMs + BLOCK_MS)
  return before.length === SIDE && after.length === SIDE ? { before, after } : undefined
}

export function nearest({ before, after }: Sides): Sides {
  return { before: before.slice(-NEAREST), after: after.slice(0, NEAREST) }
}

/** Within five minutes: every slot of the block between stands at one level or at the other. */
export function isAbrupt({ before, after }: Sides, between: Block | undefined): boolean {
  if (between === undefined) return true
  const levels = [ln(level(before.slice(-2))), ln(level(after.slice(0, 2)))]
  return between.slotsNtu.every(
    ntu => Number.isNaN(ntu) || (ntu > 0 && levels.some(one => Math.abs(ln(ntu) - one) < 0.25)),
  )
}

/** Noise after over noise before; undefined where it is no larger than the steps of the reading. */
export function noiseRatio({ before, after }: Sides, factor: number, { resolutionNtu }: Analyzer): number | undefined {
  // The jump itself is no noise: the blocks next to it are left out.
  const [was, is] = [noise(before.slice(0, -1)), noise(after.slice(1))]
  return was < resolutionNtu || is < resolutionNtu * Math.min(1, factor) ? undefined : is / was
}

/** Spread inside the blocks plus the mean step between their five-minute medians. */
function noise(blocks: readonly Block[]): number {
  const slots = blocks.flatMap(block => block.slotsNtu).filter(ntu => !Number.isNaN(ntu))
  const steps = slots.slice(1).map((ntu, k) => Math.abs(ntu - slots[k]!))
  return mean(blocks.map(block => block.sigmaNtu)) + (steps.length === 0 ? 0 : mean(steps))
}

export function level(blocks: readonly Block[]): number {
  return median(blocks.map(block => block.medianNtu))
}

export function range(blocks: readonly Block[]): number {
  const levels = blocks.map(block => block.medianNtu)
  return (Math.max(...levels) - Math.min(...levels)) / median(levels)
}
