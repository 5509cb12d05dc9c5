import type { SparkplugField } from '../../model/sparkplugFeed.js'
import { SECOND_MS } from '../../model/time.js'

/** A value that goes with readings until the next one of its kind; null where it was reported as unknown. */
export interface HeldValue {
  readonly value: number | string | null
  readonly atMs: number
  /** Edge node and device it came from: their deaths and births end it. */
  readonly source: string
}

/** Newest values by field, of one analyzer. Metrics are sent when they change, so the last one holds. */
export type Held = Readonly<Partial<Record<Companion, HeldValue>>>
export type Companion = Exclude<SparkplugField, 'value'>

export interface CameWith extends HeldValue {
  readonly field: Companion
  readonly isHistorical: boolean
}

/** One scan of a device stamps its metrics one after the other (common practice, no source). */
const SCAN_MS = SECOND_MS

/** What is held after a message: its own live values, in their order; late ones only where they are newer. */
export function hold(held: Held, came: readonly CameWith[]): Held {
  const next: Partial<Record<Companion, HeldValue>> = { ...held }
  for (const { field, isHistorical, ...value } of came) {
    const known = next[field]
    if (!isHistorical || known === undefined || value.atMs > known.atMs) next[field] = value
  }
  return next
}

/** What goes with a reading: by field the newest that is no later than it, of what was held and what came with it. */
export function valuesAt(
  held: Held,
  came: readonly CameWith[],
  atMs: number,
): Partial<Record<Companion, number | string>> {
  const newest = new Map<Companion, HeldValue>()
  const consider = (field: Companion, value: HeldValue): void => {
    const known = newest.get(field)
    if (value.atMs <= atMs + SCAN_MS && (known === undefined || value.atMs >= known.atMs)) newest.set(field, value)
  }
  for (const [field, value] of Object.entries(held) as [Companion, HeldValue][]) consider(field, value)
  for (const { field, ...value } of came) consider(field, value)
  const values: Partial<Record<Companion, number | string>> = {}
  for (const [field, { value }] of newest) if (value !== null) values[field] = value
  return values
}

/** What is left when an edge node or device died or was born again. */
export function without(held: Held, isFrom: (source: string) => boolean): Held {
  const left = Object.entries(held).filter(([, { source }]) => !isFrom(source))
  return left.length === Object.keys(held).length ? held : Object.fromEntries(left)
}
