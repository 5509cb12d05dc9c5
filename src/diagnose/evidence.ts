import type { Difference } from '../compare/difference.js'
import type { LaboratoryOffset } from '../compare/laboratoryOffset.js'
import type { Pair } from '../compare/pair.js'
import type { Verification } from '../compare/verification.js'
import { contrastSeries } from './contrastRows.js'
import { grabSeries } from './grabRows.js'
import type { Shift } from './laboratory.js'
import { offsetPlan } from './offsets.js'
import type { EvidenceRows } from './rows.js'
import { verificationSeries } from './verificationRows.js'

export type { EvidenceRows } from './rows.js'

/** An interval in which the laboratory's results are shifted: its pairs keep their order but not their level. */
export interface LaboratoryInterval {
  readonly laboratoryInstrument: string | null
  readonly fromMs: number
  /** Null while it lasts. */
  readonly untilMs: number | null
  /** Analyzer minus grab in tolerances that the shift makes. */
  readonly shift: number
  /** The form in which it is most alike at all points. */
  readonly likely: Shift
  /** Points whose grab samples showed it when it was named. */
  readonly points: readonly string[]
  /** Where it has lasted long: from when on a point's level inside it is its reference, analyzer minus grab, NTU. */
  readonly reference: { readonly fromMs: number; readonly levelsNtu: Readonly<Record<string, number>> } | null
}

/** What the posterior of a point looks at. All in tolerances at the level of each value. */
export interface PointEvidence {
  readonly units: number
  readonly series: readonly EvidenceRows[]
  /** Prior variances of what stays the same all the time, see `OffsetPlan`. */
  readonly offsetVariances: readonly number[]
  readonly fromMs: number
}

export interface EvidenceInput {
  readonly pairs: readonly Pair[]
  readonly differences: readonly Difference[]
  /** By unit. */
  readonly verifications: readonly (readonly Verification[])[]
  readonly units: number
  readonly offset: LaboratoryOffset
  /** Realised over declared uncertainty of the grab pairs. */
  readonly grabSigma: number
  readonly phi: number
  /** Realised over prior innovation of the units' differences. */
  readonly unitSigma: number
  /** By unit: evidence before this is about another state of it (last adjusting work). */
  readonly sinceMs: readonly number[]
  readonly laboratoryIntervals: readonly LaboratoryInterval[]
  readonly fromMs: number
}

/** Lays out grabs, differences and as founds as series of the linear model. Nothing enters twice. */
export function layOutEvidence(input: EvidenceInput): PointEvidence {
  const plan = offsetPlan(input)
  const series = [...grabSeries(input, plan), ...contrastSeries(input, plan), ...verificationSeries(input, plan)]
  const first = Math.min(...series.map(rows => rows.timesMs[0] ?? Infinity))
  return {
    units: input.units,
    series,
    offsetVariances: plan.variances,
    fromMs: Number.isFinite(first) ? Math.max(first, input.fromMs) : input.fromMs,
  }
}
