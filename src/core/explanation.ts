import type { CorrectionData, CriterionData, EvidenceData, RecommendationData, StatusData } from '../model/events.js'
import type { ExclusionCounts, Line } from '../model/vocabulary.js'
import type { GrabComparison } from './explainComparison.js'
import type { ScoreRow } from './scorecard.js'

/** A status as it was told; without `since` before the first block of the analyzer has been worked through. */
export type StandingData = Omit<StatusData, 'since'> & { readonly since?: string }

/**
 * Everything known about one analyzer at one plant time, ready to be shown: why something is recommended, or why
 * not. Plain data; numbers are rounded, instants are milliseconds.
 */
export interface Explanation {
  readonly plant: string
  readonly plantName: string
  readonly timeZone: string
  readonly analyzer: string
  readonly serial?: string
  readonly point: string
  readonly pointName: string
  /** Plant time; 0 before the first tick. */
  readonly atMs: number
  readonly toleranceText: string
  readonly status: StandingData
  /** The open recommendation about the analyzer, its point or the laboratory behind its grab samples, else its last one closed. */
  readonly recommendation?: RecommendationData
  /** For an analyzer with nothing open: each condition for opening, its value and its limit. */
  readonly conditions: readonly { readonly text: string; readonly met: boolean }[]
  /** The one thing nearest to changing the answer. */
  readonly nearest: string
  readonly lines: readonly LineView[]
  /** Scatter of a six-hour value of each of three units, one sd in tolerances; null where not told apart from 0. */
  readonly precision?: readonly { readonly analyzer: string; readonly ofTolerance: number | null }[]
  readonly comparison: GrabComparison
  /** Where the register names published criteria for the point: apart from all that is said otherwise. */
  readonly criteria?: readonly CriterionData[]
  /** Ten days of 15-minute blocks, oldest first; a gap is a block that is missing. */
  readonly blocks: readonly { readonly endMs: number; readonly medianNtu: number; readonly usable: boolean }[]
  /** The redundant units' blocks, for comparison on the same picture. */
  readonly companions: readonly {
    readonly analyzer: string
    readonly blocks: readonly { readonly endMs: number; readonly medianNtu: number; readonly usable: boolean }[]
  }[]
  readonly grabs: readonly GrabView[]
  readonly work: readonly { readonly atMs: number; readonly text: string }[]
  /** What visits say of the record before them; left out where none says anything. */
  readonly corrections?: readonly CorrectionData[]
  /** How requests at points of this class ended; left out where none has. */
  readonly trackRecord?: readonly ScoreRow[]
  /** What causes leave behind besides the error itself, as seen now. */
  readonly signs: readonly string[]
  readonly hypotheses: readonly { readonly text: string; readonly probability: number }[]
  readonly onset?: { readonly estimateMs: number; readonly earliestMs?: number; readonly latestMs: number }
  readonly excluded: ExclusionCounts
  /** With these a replay of the journal makes the same page; instants are 0 before there is one. */
  readonly reproduce: { readonly registerHash: string; readonly fromMs: number; readonly toMs: number }
}

export interface LineView {
  readonly line: Line
  /** Against what: a unit, the grab samples, a standard. */
  readonly against: string
  /** Why the line says nothing, where it does: "no second unit at the point". */
  readonly missing?: string
  readonly delta0: number
  readonly delta1: number
  readonly evidence?: EvidenceData
  readonly rows: readonly LineRow[]
}

/** One value of a line: difference to the reference and the two sums of its chart after it. */
export interface LineRow {
  readonly atMs: number
  /** Analyzer minus reference, in tolerances at the level. */
  readonly ofTolerance: number
  readonly uOfTolerance: number
  readonly high: number
  readonly low: number
  readonly limit: number
}

export interface GrabView {
  readonly atMs: number
  readonly grabNtu: number
  readonly uNtu: number
  readonly analyzerNtu: number | undefined
  readonly sampleId: string | undefined
  /** `used`, or why the pair was left out. */
  readonly use: string
}
