import { DAY_MS, formatInstant } from '../model/time.js'

/** One thing that happened at the plant, and what a service should and should not have said about it. */
export interface FaultTruth {
  readonly id: string
  readonly analyzer?: string
  readonly point?: string
  readonly laboratoryInstrument?: string
  /** Analyzers that are not simply sound because of it. */
  readonly concerns: readonly string[]
  readonly kind: FaultKind
  readonly shape: 'ramp' | 'accelerating' | 'step' | 'episode' | 'single' | 'constant'
  readonly onset: string
  /** When the true bias first exceeds the tolerance at the level of that day; null if it never does. */
  readonly tolerancePassedAt: string | null
  /** When it was put right or passed; null if it lasts to the end. */
  readonly ends: string | null
  readonly description: string
  readonly mustSay: readonly Expectation[]
  readonly mustNotSay: readonly Expectation[]
  /** Openings that are no false alarm while it lasts, and three days longer. */
  readonly mayOpen: readonly { readonly target: Target; readonly actions: readonly string[] }[]
}

export type FaultKind =
  | 'zero'
  | 'span'
  | 'fouling'
  | 'bubbles'
  | 'stuck'
  | 'bad_grab'
  | 'process_change'
  | 'zero_reference_bad'
  | 'standard_bad'
  | 'harmless'
  | 'laboratory'

export interface Target {
  readonly analyzer?: string
  readonly point?: string
  readonly laboratoryInstrument?: string
}

/** An event of this type (or one of `orEvent`) with this target, an action and a cause of the lists, between the times. */
export interface Expectation {
  readonly event: string
  readonly orEvent?: readonly string[]
  readonly target?: Target
  readonly actions?: readonly string[]
  readonly causes?: readonly string[]
  readonly finding?: string
  readonly sampleId?: string
  readonly after?: string
  readonly before?: string
}

export const OPENED = 'recommendation.opened'
export const BIAS_ACTIONS = ['clean_then_verify', 'zero', 'zero_and_span', 'span', 'calibrate_primary'] as const
/** What may be asked for at an analyzer that is truly biased. */
const ANY_ACTION = [...BIAS_ACTIONS, 'verify', 'inspect', 'take_grab', 'check_sample_line', 'check_signal'] as const
/** Time for the proof of work: four pairs at the rarest grab plan, and some more. */
const PROOF_MS = 10 * DAY_MS

/** A fault without expectations yet. */
export function plain(
  id: string,
  kind: FaultKind,
  shape: FaultTruth['shape'],
  onsetMs: number,
  endsMs: number | undefined,
): Omit<FaultTruth, 'description'> {
  return {
    id,
    concerns: [],
    kind,
    shape,
    onset: formatInstant(onsetMs),
    tolerancePassedAt: null,
    ends: endsMs === undefined ? null : formatInstant(endsMs),
    mustSay: [],
    mustNotSay: [],
    mayOpen: [],
  }
}

/** A fault that makes one analyzer read wrong: any opening there is justified. */
export function biased(
  id: string,
  analyzer: string,
  kind: FaultKind,
  shape: FaultTruth['shape'],
  onsetMs: number,
  endsMs: number,
  tolerancePassedAt: string | null,
): Omit<FaultTruth, 'description'> {
  const mayOpen = [{ target: { analyzer }, actions: ANY_ACTION }]
  return { ...plain(id, kind, shape, onsetMs, endsMs), analyzer, concerns: [analyzer], tolerancePassedAt, mayOpen }
}

/** The proof that the last work helped. */
export function confirmed(analyzer: string, workMs: number): Expectation {
  return {
    event: 'work.confirmed',
    target: { analyzer },
    after: formatInstant(workMs),
    before: formatInstant(workMs + PROOF_MS),
  }
}
