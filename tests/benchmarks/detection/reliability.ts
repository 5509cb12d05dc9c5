import { mean } from 'simple-statistics'
import { type Share, shareOf } from './share.js'

/** A stated probability, and whether what it was stated of was true. */
export interface Stated {
  readonly probability: number
  readonly isTrue: boolean
}

export interface ReliabilityBin {
  readonly from: number
  readonly to: number
  readonly n: number
  /** Mean of what was stated. */
  readonly stated: number
  readonly right: Share
}

interface Bin {
  readonly from: number
  readonly to: number
  readonly inside: readonly Stated[]
}

const TENTHS = [5, 6, 7, 8, 9] as const
const LEAST_IN_BIN = 50

/** Probabilities of one half or more in bins of a tenth, neighbours joined until each holds fifty, where there are so many. */
export function reliabilityBins(stated: readonly Stated[]): ReliabilityBin[] {
  const bins = TENTHS.map((tenth): Bin => {
    const inside = stated.filter(({ probability }) => tenthOf(probability) === tenth)
    return { from: tenth / 10, to: (tenth + 1) / 10, inside }
  })
  return join(bins).flatMap(({ from, to, inside }) => {
    if (inside.length === 0) return []
    const right = shareOf(inside, ({ isTrue }) => isTrue)
    return [{ from, to, n: inside.length, stated: mean(inside.map(({ probability }) => probability)), right }]
  })
}

/** The emptiest bin goes with its emptier neighbour, until none is too empty or one is left. */
function join(bins: readonly Bin[]): readonly Bin[] {
  if (bins.length === 1) return bins
  const sizes = bins.map(({ inside }) => inside.length)
  const least = sizes.indexOf(Math.min(...sizes))
  if (sizes[least]! >= LEAST_IN_BIN) return bins
  const joinsNext = least === 0 || (least + 1 < sizes.length && sizes[least + 1]! < sizes[least - 1]!)
  const at = joinsNext ? least : least - 1
  const [low, high] = [bins[at]!, bins[at + 1]!]
  const both = { from: low.from, to: high.to, inside: [...low.inside, ...high.inside] }
  return join([...bins.slice(0, at), both, ...bins.slice(at + 2)])
}

/** What is written as 0.6 belongs to the bin that it begins. */
function tenthOf(probability: number): number {
  return Math.min(9, Math.floor(probability * 10 + 1e-9))
}
