import { quantile } from 'simple-statistics'
import type { Shape } from '../../../src/diagnose/hypothesis.js'
import type { Opening } from './cases.js'
import { type Share, shareOf } from './share.js'

/** An opening, or none, of a fault. */
export interface CoverRecord {
  readonly shape: Shape
  readonly opened: Pick<Opening, 'rightUnit' | 'bias' | 'covers'> | null
}

export type Quantity = keyof Opening['covers']

export const QUANTITIES: readonly Quantity[] = ['bias', 'zero', 'span', 'onset']
const BIAS_QUANTILES = [0.05, 0.25, 0.5, 0.75, 0.95] as const

export interface CoverScores {
  readonly faults: number
  readonly rightUnit: Share
  readonly wrongUnit: Share
  /** Share of the printed intervals that hold the truth. */
  readonly covered: Readonly<Record<Quantity, Share>>
  /** Size of the true bias at opening, tolerances, where the right unit was named. */
  readonly bias: readonly { readonly p: number; readonly value: number }[]
}

/** Steps apart from what grows: the one is all there when it begins, the other has a pace to be found out. */
export function scoreCovers(records: readonly CoverRecord[]): Readonly<Record<'steps' | 'growing', CoverScores>> {
  return {
    steps: coversOf(records.filter(({ shape }) => shape === 'step')),
    growing: coversOf(records.filter(({ shape }) => shape !== 'step')),
  }
}

function coversOf(records: readonly CoverRecord[]): CoverScores {
  const right = records.flatMap(({ opened }) => (opened?.rightUnit === true ? [opened] : []))
  const sizes = right.map(({ bias }) => Math.abs(bias))
  const covered = (quantity: Quantity): Share =>
    shareOf(
      right.filter(({ covers }) => covers[quantity] !== null),
      ({ covers }) => covers[quantity] === true,
    )
  return {
    faults: records.length,
    rightUnit: shareOf(records, ({ opened }) => opened?.rightUnit === true),
    wrongUnit: shareOf(records, ({ opened }) => opened?.rightUnit === false),
    covered: { bias: covered('bias'), zero: covered('zero'), span: covered('span'), onset: covered('onset') },
    bias: sizes.length === 0 ? [] : BIAS_QUANTILES.map(p => ({ p, value: quantile(sizes, p) })),
  }
}
