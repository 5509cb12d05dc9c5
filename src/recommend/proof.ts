import type { StandardType, WorkAction } from '../model/messages.js'
import { DAY_MS } from '../model/time.js'
import { equivalenceOfEstimate } from '../statistics/equivalence.js'
import { inverseVarianceMean } from '../statistics/mean.js'

/** Whether work helped: pairs and checks after it, judged against the tolerance. Plain data. */
export interface Proof {
  readonly workMs: number
  readonly action: WorkAction
  readonly workId: string | null
  /** Bias before the work, tolerances, with half its 95 % interval; null where nobody knew. */
  readonly before: { readonly value: number; readonly half: number } | null
  /** Median of the last pairs before the work, tolerances; null with fewer than three. */
  readonly lastPairs: number | null
  /** Why the record itself is no proof, such as a standard that belongs to another analyzer, and what is asked for. */
  readonly contradictions: readonly { readonly text: string; readonly ask: string }[]
  /** What the records of the visit say of film and calibration. */
  readonly visit: string[]
  /** Residuals after the work net of the laboratory's offset, tolerances, and their uncertainties. */
  residuals: number[]
  us: number[]
  /** Later verifications on a reference that shows what the work was about, in the same measure. */
  checks: { readonly residual: number; readonly u: number }[]
  /** It was said once that nothing has come in yet. */
  isReminded: boolean
}

export type Verdict = 'confirmed' | 'not_confirmed' | 'undecided'

export interface Judgement {
  readonly verdict: Verdict | undefined
  /** Mean after the work, tolerances, and its standard uncertainty. */
  readonly mean: number
  readonly u: number
}

export const LEAST_PAIRS = 4
/** A verification is taken by somebody who looks at the analyzer: it stands for so many pairs in the count. */
export const PAIRS_OF_A_CHECK = 2
const INSIDE = 0.8
const BEYOND = 0.5
const WAIT_MS = 14 * DAY_MS
/** Slow sample-line mismatch does not average out over a few pairs, tolerances. */
const SLOW = 0.08
/** Further pairs that are worth asking for. */
const MOST_MORE = 20
/** Uncertainty of a pair where none has come yet, tolerances. */
const USUAL_U = 0.25

const ZERO_TYPES: readonly StandardType[] = ['zero_water', 'source_off']

/** Whether a reference shows what the work was about: zero water a zero, a standard a span, either a cleaning. */
export function countsForProof(action: WorkAction, type: StandardType): boolean {
  if (action === 'zero') return ZERO_TYPES.includes(type)
  if (action === 'span') return !ZERO_TYPES.includes(type)
  return action !== 'line_flushed'
}

/**
 * Equivalence within tolerance (two one-sided tests, uncertainties known): confirmed when the 90 % interval of the mean
 * lies inside ±0.8 tolerance, not confirmed when the 95 % interval lies beyond half the tolerance, undecided after a
 * fortnight.
 */
export function judgeProof(proof: Proof, atMs: number): Judgement {
  const { mean, weight } = weigh(proof)
  const u = weight > 0 ? Math.sqrt(1 / weight + SLOW * SLOW) : Infinity
  const verdict = countOf(proof) >= LEAST_PAIRS ? verdictOf(mean, u) : undefined
  if (verdict !== undefined) return { verdict, mean, u }
  return { verdict: atMs - proof.workMs > WAIT_MS ? 'undecided' : undefined, mean, u }
}

/** Evidence that is in, as pairs. */
export function countOf({ residuals, checks }: Proof): number {
  return residuals.length + PAIRS_OF_A_CHECK * checks.length
}

function weigh({ residuals, us, checks }: Proof): { readonly mean: number; readonly weight: number } {
  return inverseVarianceMean([
    ...residuals.map((value, i) => ({ value, u: us[i] ?? 1 })),
    ...checks.map(({ residual, u }) => ({ value: residual, u })),
  ])
}

function verdictOf(mean: number, u: number): 'confirmed' | 'not_confirmed' | undefined {
  const within = equivalenceOfEstimate(
    { difference: mean, standardError: u, df: Infinity },
    { low: -INSIDE, high: INSIDE },
  )
  if (within.equivalent) return 'confirmed'
  const { interval } = equivalenceOfEstimate(
    { difference: mean, standardError: u, df: Infinity },
    { low: -BEYOND, high: BEYOND, alpha: 0.025 },
  )
  return interval.lower > BEYOND || interval.upper < -BEYOND ? 'not_confirmed' : undefined
}

/**
 * Further grab samples that would settle it if they say what the ones so far say; undefined where even many would not.
 */
export function pairsToSettle(proof: Proof): number | undefined {
  const { mean, weight } = weigh(proof)
  const usualU = proof.us.length > 0 ? proof.us.reduce((sum, u) => sum + u, 0) / proof.us.length : USUAL_U
  for (let more = Math.max(1, LEAST_PAIRS - countOf(proof)); more <= MOST_MORE; more++) {
    const u = Math.sqrt(1 / (weight + more / (usualU * usualU)) + SLOW * SLOW)
    if (verdictOf(mean, u) !== undefined) return more
  }
  return undefined
}
