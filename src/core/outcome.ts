import { emit } from './emit.js'
import type { PlantState } from './plantState.js'
import type { PlantEvent } from '../model/events.js'
import { type Fault, type FaultCode, sayFault, showValue } from '../model/faults.js'
import { HOUR_MS } from '../model/time.js'
import type { Exclusion } from '../model/vocabulary.js'

export type Outcome =
  | { readonly kind: 'accepted' }
  | { readonly kind: 'repeat' }
  | { readonly kind: 'excluded'; readonly reason: Exclusion }
  | { readonly kind: 'rejected'; readonly faults: readonly Fault[] }

export interface StepResult {
  readonly state: PlantState
  readonly events: readonly PlantEvent[]
  readonly outcome: Outcome
}

export const ACCEPTED: Outcome = { kind: 'accepted' }
export const REPEAT: Outcome = { kind: 'repeat' }
const NO_EVENTS: readonly PlantEvent[] = []
export function refuse(state: PlantState, code: FaultCode, field: string, value: unknown, rule: string): StepResult {
  return reject(state, [{ code, field, value: showValue(value), rule }])
}

/** Told at most so often in an hour of plant time; counted always. */
const TOLD_AN_HOUR = 50

export function reject(state: PlantState, faults: readonly Fault[]): StepResult {
  state.counts.rejected += 1
  const outcome: Outcome = { kind: 'rejected', faults }
  const hourMs = Math.floor(state.plantMs / HOUR_MS) * HOUR_MS
  if (state.published.rejectedThisHour.hourMs !== hourMs) state.published.rejectedThisHour = { hourMs, count: 0 }
  state.published.rejectedThisHour.count += 1
  const [first] = faults
  if (first === undefined || state.published.rejectedThisHour.count > TOLD_AN_HOUR) return done(state, outcome)
  const more = faults.length > 1 ? ` (and ${String(faults.length - 1)} more)` : ''
  const event = emit(state, 'message.rejected', state.id, state.plantMs, {
    summary: `A message was rejected: ${sayFault(first)}${more}.`,
    notify: 'shift_summary',
    code: first.code,
    field: first.field,
    value: first.value,
    rule: first.rule,
  })
  return { state, events: [event], outcome }
}

export function done(state: PlantState, outcome: Outcome): StepResult {
  return { state, events: NO_EVENTS, outcome }
}
