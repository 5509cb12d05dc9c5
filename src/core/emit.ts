import type { PlantEvent } from '../model/events.js'
import { eventId } from '../model/identity.js'
import { formatInstant } from '../model/time.js'
import type { PlantState } from './plantState.js'

type Body<T extends PlantEvent['type']> = Extract<PlantEvent, { type: T }>['data']

/** Makes an event with the next id of its subject and type. The counters lie outside snapshots: no id comes twice. */
export function emit<T extends PlantEvent['type']>(
  state: PlantState,
  type: T,
  subject: string,
  atMs: number,
  data: Body<T>,
): PlantEvent {
  const counter = next(state, `event ${subject} ${type}`)
  return {
    id: eventId(state.id, subject, type, counter),
    type,
    source: state.id,
    subject,
    time: formatInstant(atMs),
    data,
  } as PlantEvent
}

/** Counts up and returns the new value, from 1. */
export function next(state: PlantState, key: string): number {
  const value = (state.published.counters.get(key) ?? 0) + 1
  state.published.counters.set(key, value)
  return value
}
