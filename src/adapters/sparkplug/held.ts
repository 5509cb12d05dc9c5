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

/** What there is to go with readings, by field in the order of time; of the same time the last that came is last. */
export type Companions = ReadonlyMap<Companion, readonly HeldValue[]>

export function companionsOf(held: Held, came: readonly CameWith[]): Companions {
  const byField = new Map<Companion, HeldValue[]>()
  const add = (field: Companion, value: HeldValue): void => {
    const values = byField.get(field)
    if (values === undefined) byField.set(field, [value])
    else values.push(value)
  }
  for (const [field, value] of Object.entries(held) as [Companion, HeldValue][]) add(field, value)
  for (const { field, ...value } of came) add(field, value)
  for (const values of byField.values()) values.sort((a, b) => a.atMs - b.atMs)
  return byField
}

/** What goes with a reading: of each field the newest that is no later than it. */
export function valuesAt(companions: Companions, atMs: number): Partial<Record<Companion, number | string>> {
  const values: Partial<Record<Companion, number | string>> = {}
  for (const [field, candidates] of companions) {
    let [first, end] = [0, candidates.length]
    while (first < end) {
      const middle = (first + end) >> 1
      if (candidates[middle]!.atMs <= atMs + SCAN_MS) first = middle + 1
      else end = middle
    }
    const newest = candidates[first - 1]?.value
    if (newest !== undefined && newest !== null) values[field] = newest
  }
  return values
}

/** What is left when an edge node or device died or was born again. */
export function without(held: Held, isFrom: (source: string) => boolean): Held {
  const left = Object.entries(held).filter(([, { source }]) => !isFrom(source))
  return left.length === Object.keys(held).length ? held : Object.fromEntries(left)
}
