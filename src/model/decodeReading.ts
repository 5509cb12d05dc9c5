import type { Decoded } from './decode.js'
import { readingSchema, type Reading } from './messages.js'
import { isName } from './names.js'
import { parseInstant } from './time.js'
import { UNITS } from './units.js'

/**
 * The short way for the one message that comes a thousand times as often as all others together: the same rules as
 * `readingSchema`, by hand. Answers only where the reading is plainly good; anything else goes to the schema, which
 * words the error. A property test holds the two equal.
 */
export function decodeReading(wire: Readonly<Record<string, unknown>>): Decoded | undefined {
  const { analyzer, time, value, unit } = wire
  if (!isName(analyzer) || typeof time !== 'string' || !isBetween(value, -1e6, 1e6) || !isUnit(unit)) return undefined
  const atMs = parseInstant(time)
  if (atMs === undefined) return undefined
  const reading: Mutable = { kind: 'reading', analyzer, value, unit, atMs }
  let ignored: string[] | undefined
  for (const key in wire) {
    if (!Object.hasOwn(wire, key)) continue
    if (REQUIRED.has(key)) continue
    const member = wire[key]
    const check = OPTIONAL.get(key)
    if (check === undefined) (ignored ??= []).push(key)
    else if (member === undefined) continue
    else if (check(member)) reading[key] = member
    else return undefined
  }
  return { ok: true, message: reading as unknown as Reading, ignored: ignored ?? NONE }
}

type Mutable = Record<string, unknown>
const NONE: readonly string[] = []
const REQUIRED: ReadonlySet<string> = new Set(['kind', 'analyzer', 'time', 'value', 'unit'])
const STATES: ReadonlySet<unknown> = new Set(readingSchema.shape.state.unwrap().options)
const QUALITIES: ReadonlySet<unknown> = new Set(readingSchema.shape.quality.unwrap().options)
const OPTIONAL: ReadonlyMap<string, (member: unknown) => boolean> = new Map([
  ['state', member => STATES.has(member)],
  ['quality', member => QUALITIES.has(member)],
  ['flowLMin', member => isBetween(member, 0, 1_000)],
  ['lightSourcePct', member => isBetween(member, 0, 1_000)],
  ['temperatureC', member => isBetween(member, -50, 150)],
  ['seq', member => Number.isSafeInteger(member) && (member as number) >= 0],
])

function isUnit(unit: unknown): boolean {
  return (UNITS as readonly unknown[]).includes(unit)
}

function isBetween(value: unknown, least: number, most: number): boolean {
  return typeof value === 'number' && value >= least && value <= most
}
