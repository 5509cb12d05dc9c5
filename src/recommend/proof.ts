import type { WorkAction } from '../model/messages.js'
import { DAY_MS } from '../model/time.js'

/** Whether work helped: pairs after it, judged against the tolerance. Plain data. */
export interface Proof {
  readonly workMs: number
  readonly action: WorkAction
  readonly workId: string | null
  /** Bias before the work, tolerances, with half its 95 % interval; null where nobody knew. */
  readonly before: { readonly value: number; readonly half: number } | null
  /** Median of the last pairs before the work, tolerances; null with fewer than three. */
  readonly lastPairs: number | null
  /** Why the record itself is no proof, such as a standard that belongs to another analyzer. */
  readonly contradictions: string[]
  /** What the record says of film and calibration. */
  readonly visit: string[]
  /** Residuals after the work net of the laboratory's offset, tolerances, and their uncertainties. */
  residuals: number[]
  us: number[]
}

export type Verdict = 'confirmed' | 'not_confirmed' | 'undecided'

export interface Judgement {
  readonly verdict: Verdict | undefined
  /** Mean after the work, tolerances, and its standard uncertainty. */
  readonly mean: number
  readonly u: number
}

export const LEAST_PAIRS = 4
const INSIDE = 0.8
const BEYOND = 0.5
const WAIT_MS = 14 * DAY_MS
/** Slow sample-line mismatch does not average out over a few pairs, tolerances. */
const SLOW = 0.08
const Z90 = 1.645
const Z95 = 1.96

/**
 * Equivalence within tolerance by interval: confirmed when the 90 % interval of the mean lies inside ±0.8 tolerance
 * (two one-sided tests), not confirmed when the 95 % interval lies beyond half the tolerance, undecided after a fortnight.
 */
export function judgeProof(proof: Proof, atMs: number): Judgement {
  let weight = 0
  let weighted = 0
  proof.residuals.forEach((residual, i) => {
    const u = proof.us[i] ?? 1
    weight += 1 / (u * u)
    weighted += residual / (u * u)
  })
  const mean = weight > 0 ? weighted / weight : 0
  const u = weight > 0 ? Math.sqrt(1 / weight + SLOW * SLOW) : Infinity
  const enough = proof.residuals.length >= LEAST_PAIRS
  if (enough && Math.abs(mean) + Z90 * u < INSIDE) return { verdict: 'confirmed', mean, u }
  if (enough && Math.abs(mean) - Z95 * u > BEYOND) return { verdict: 'not_confirmed', mean, u }
  return { verdict: atMs - proof.workMs > WAIT_MS ? 'undecided' : undefined, mean, u }
}
