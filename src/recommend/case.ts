import type { UnitEstimate } from '../diagnose/estimate.js'
import type { WorkAction } from '../model/messages.js'
import type { Action, Cause, FindingKind, Urgency } from '../model/vocabulary.js'

/** One request with one target, as the fold sees it: no ids, no answers, nothing of what was published. Plain data. */
export interface Case {
  readonly target: CaseTarget
  readonly kind: 'bias' | 'which_unit' | 'laboratory' | 'signal' | 'sample_line'
  phase: 'open' | 'awaiting_proof'
  /** Instant at which the fold opened it. */
  readonly openedMs: number
  action: Action
  causes: RankedCause[]
  because: string[]
  urgency: Urgency
  estimate: UnitEstimate | null
  /** The finding behind a signal case. */
  readonly finding: FindingKind | null
  /** Begin of what it is about. */
  readonly sinceMs: number
  /** When the error went at one block without work on record: whoever did it was asked for the record. */
  recordAskedMs?: number
  /** Another action the evidence asked for once; asked for twice it becomes the action. */
  pendingAction: Action | null
  /** Work that was accepted although its own record says it is not done; the request waits for it to be repeated. */
  notDone?: NotDone | null
}

export interface NotDone {
  readonly atMs: number
  readonly action: WorkAction
  readonly text: string
  readonly ask: string
}

export interface CaseTarget {
  readonly analyzer: string | null
  readonly point: string | null
  readonly laboratoryInstrument: string | null
}

export interface RankedCause {
  readonly cause: Cause
  readonly probability: number
}

/** Key of a target: one open case each. */
export function targetKey(target: CaseTarget): string {
  if (target.analyzer !== null) return target.analyzer
  if (target.point !== null) return `point:${target.point}`
  return `laboratory:${target.laboratoryInstrument ?? 'all'}`
}

/** The likeliest cause that has a name. */
export function leadingCause(causes: readonly RankedCause[]): Cause {
  return causes.find(({ cause }) => cause !== 'undecided')?.cause ?? 'undecided'
}
