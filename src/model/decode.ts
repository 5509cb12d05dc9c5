import type { z } from 'zod'
import { type Fault, type FaultCode, showValue } from './faults.js'
import {
  type Grab,
  KINDS,
  type Kind,
  type LaboratoryCheck,
  type Message,
  type ProcessState,
  type Reading,
  type RegisterMessage,
  type Response,
  SCHEMA_BY_KIND,
  type Tick,
  type Work,
} from './messages.js'
import { decodeReading } from './decodeReading.js'
import { parseInstant } from './time.js'
import { toWholeUnit } from './units.js'

export type Decoded =
  | {
      readonly ok: true
      readonly message: Message
      /** Names of fields nobody asked for; counted. */ readonly ignored: readonly string[]
    }
  | { readonly ok: false; readonly faults: readonly Fault[] }

/** Turns a parsed JSON value into a message, or says what is wrong with it, every field at once. Never throws. */
export function decodeMessage(value: unknown): Decoded {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    return refuse('not_an_object', '', value, 'must be one JSON object')
  }
  const kind: unknown = Object.hasOwn(value, 'kind') ? (value as { kind: unknown }).kind : undefined
  if (!isKind(kind)) return refuse('unknown_kind', 'kind', kind, `must be one of ${KINDS.join(', ')}`)
  if (kind === 'reading') {
    const reading = decodeReading(value as Record<string, unknown>)
    if (reading !== undefined) return reading
  }
  return decodeBySchema(kind, value)
}

/** The schema's own answer; `decodeMessage` goes a shorter way for readings and must agree with this one. */
export function decodeBySchema(kind: Kind, value: object): Decoded {
  const schema: z.ZodType = SCHEMA_BY_KIND[kind]
  const parsed = schema.safeParse(value)
  if (!parsed.success) return { ok: false, faults: parsed.error.issues.map(issue => toFault(kind, value, issue)) }
  const wire = parsed.data as Record<string, unknown>
  const { known, ignored } = split(value, wire, Object.keys(SCHEMA_BY_KIND[kind].shape))
  const message = toMessage(kind, known)
  if (
    kind === 'grab' &&
    typeof known.value === 'string' &&
    known.qualifier !== undefined &&
    (message as Grab).qualifier !== known.qualifier
  ) {
    return refuse(
      'invalid_field',
      'grab.qualifier',
      known.qualifier,
      `must agree with the value, ${showValue(known.value)}`,
    )
  }
  const faults = crossFieldFaults(message)
  return faults.length > 0 ? { ok: false, faults } : { ok: true, message, ignored }
}

function isKind(kind: unknown): kind is Kind {
  return typeof kind === 'string' && (KINDS as readonly string[]).includes(kind)
}

/** What came tells what was ignored; what the schema passed is what is known. */
function split(
  came: object,
  wire: Record<string, unknown>,
  names: readonly string[],
): { known: Record<string, unknown>; ignored: string[] } {
  const known: Record<string, unknown> = {}
  const ignored: string[] = []
  for (const key of Object.keys(came)) {
    if (!names.includes(key)) ignored.push(key)
    else if (wire[key] !== undefined) known[key] = wire[key]
  }
  return { known, ignored }
}

function toMessage(kind: Kind, wire: Record<string, unknown>): Message {
  const { time, sampled, sampledAlso, until, reported, analysed: _analysed, ...rest } = wire
  switch (kind) {
    case 'reading':
      return { ...rest, atMs: instantOf(time) } as Reading
    case 'work':
      return { ...rest, atMs: instantOf(time) } as Work
    case 'process':
      return { ...rest, atMs: instantOf(time) } as ProcessState
    case 'laboratory_check':
      return { ...rest, atMs: instantOf(time) } as LaboratoryCheck
    case 'tick':
      return { ...rest, atMs: instantOf(time) } as Tick
    case 'response':
      return {
        ...rest,
        atMs: instantOf(time),
        ...(until === undefined ? {} : { untilMs: instantOf(until) }),
      } as Response
    case 'grab':
      return {
        ...rest,
        ...readQualifier(rest),
        sampledMs: instantOf(sampled),
        ...(sampledAlso === undefined ? {} : { sampledAlsoMs: instantOf(sampledAlso) }),
        ...(reported === undefined ? {} : { reportedMs: instantOf(reported) }),
      } as Grab
    case 'register':
      return rest as unknown as RegisterMessage
  }
}

function readQualifier(grab: Record<string, unknown>): { value: number; qualifier?: '<' | '>' } {
  if (typeof grab.value === 'number') return { value: grab.value }
  const text = (grab.value as string).trim()
  return { qualifier: text.startsWith('<') ? '<' : '>', value: Number(text.slice(1)) }
}

/** Rules that need two fields. */
function crossFieldFaults(message: Message): Fault[] {
  if (message.kind === 'response' && message.decision === 'deferred') {
    const faults: Fault[] = []
    if (message.untilMs === undefined)
      faults.push({ code: 'missing_field', field: 'response.until', value: 'nothing', rule: 'a deferral needs a date' })
    else if (message.untilMs <= message.atMs || message.untilMs > message.atMs + MAX_DEFERRAL_MS) {
      faults.push({
        code: 'invalid_field',
        field: 'response.until',
        value: showValue(new Date(message.untilMs).toISOString()),
        rule: 'must be after the decision and within 30 days of it',
      })
    }
    if (message.reason === undefined)
      faults.push({
        code: 'missing_field',
        field: 'response.reason',
        value: 'nothing',
        rule: 'a deferral needs a reason',
      })
    return faults
  }
  if (message.kind === 'grab' && message.sampledAlsoMs !== undefined) {
    const apartMs = message.sampledAlsoMs - message.sampledMs
    if (apartMs <= 0 || apartMs > LARGEST_CLOCK_CHANGE_MS) {
      return [
        {
          code: 'invalid_field',
          field: 'grab.sampledAlso',
          value: showValue(new Date(message.sampledAlsoMs).toISOString()),
          rule: 'must be later than sampled, by two hours at most',
        },
      ]
    }
  }
  if (message.kind === 'grab' && toWholeUnit(message.value, message.unit) < LOWEST_GRAB) {
    return [
      {
        code: 'invalid_field',
        field: 'grab.value',
        value: String(message.value),
        rule: 'a laboratory result cannot be that far below zero',
      },
    ]
  }
  return []
}

/** A laboratory result cannot be further below zero, in whole units. */
const LOWEST_GRAB = -1
const MAX_DEFERRAL_MS = 30 * 86_400_000
/** No zone puts its clocks back further. */
const LARGEST_CLOCK_CHANGE_MS = 2 * 3_600_000

function instantOf(text: unknown): number {
  return parseInstant(text as string)!
}

function toFault(kind: Kind, value: object, issue: z.core.$ZodIssue): Fault {
  const came = valueAt(value, issue.path)
  return {
    code: came === undefined ? 'missing_field' : 'invalid_field',
    field: [kind, ...issue.path.map(String)].join('.'),
    value: showValue(came),
    rule: issue.message,
  }
}

function valueAt(value: unknown, path: readonly PropertyKey[]): unknown {
  let current: unknown = value
  for (const key of path) {
    if (typeof current !== 'object' || current === null || !Object.hasOwn(current, key)) return undefined
    current = (current as Record<PropertyKey, unknown>)[key]
  }
  return current
}

function refuse(code: FaultCode, field: string, value: unknown, rule: string): Decoded {
  return { ok: false, faults: [{ code, field, value: showValue(value), rule }] }
}
