import { type Fault, showValue } from '../model/faults.js'
import { FEED_KINDS, type FeedKind } from '../model/messages.js'
import type { MqttFeed } from '../model/register.js'
import { readQualityWord } from './qualityWords.js'

export type Feed = MqttFeed

export type Mapped =
  | { readonly ok: true; readonly message: Readonly<Record<string, unknown>> }
  | { readonly ok: false; readonly faults: readonly Fault[] }

const TIME_FIELDS = ['time', 'sampled', 'until', 'analysed', 'reported'] as const
const NUMERIC_TEXT = /^[+-]?\d{1,15}(\.\d{1,15})?([eE][+-]?\d{1,3})?$/
const LATEST_MS = 8.64e15

/**
 * Makes a message of what a plant sends. Without `map.fields` the payload's own members are the message; with it only
 * the fields named are taken, `.` meaning the whole payload. Named levels of the topic come over the payload, for the
 * broker's access control knows topics only; constants come over both. Where a feed carries one kind, that is the
 * kind of a payload that names none. The result still has to be decoded.
 * @param topicValues what `TopicTemplate.match` gave  @param payload a parsed JSON value
 */
export function mapPayload(feed: Feed, topicValues: Readonly<Record<string, string>>, payload: unknown): Mapped {
  const { fields, constants } = feed.map ?? {}
  if (fields === undefined && (typeof payload !== 'object' || payload === null || Array.isArray(payload))) {
    const rule = 'must be one JSON object, or the feed must say in map.fields where its value stands'
    return refuse('not_an_object', '', payload, rule)
  }
  const kinds = feed.kinds ?? ['reading']
  const message: Record<string, unknown> = isWhole(feed, kinds, topicValues, payload)
    ? payload
    : {
        ...(kinds.length === 1 ? { kind: kinds[0] } : {}),
        ...(fields === undefined ? (payload as object) : pick(fields, payload)),
        ...topicValues,
        ...constants,
      }
  const { kind } = message
  if (typeof kind === 'string' && !isAllowed(kind, kinds)) {
    return refuse(
      'kind_not_allowed',
      'kind',
      kind,
      `must be a kind the feed ${feed.name} may carry: ${kinds.join(', ')}`,
    )
  }
  if (feed.map === undefined) return { ok: true, message }
  const faults = [
    ...translateTimes(feed.map.time ?? 'rfc3339', message),
    ...translateQuality(feed.map.qualities, message),
  ]
  return faults.length > 0 ? { ok: false, faults } : { ok: true, message }
}

/** The payload is the message as it stands, and needs no copy. */
function isWhole(
  feed: Feed,
  kinds: readonly FeedKind[],
  topicValues: Readonly<Record<string, string>>,
  payload: unknown,
): payload is Record<string, unknown> {
  if (feed.map !== undefined || Object.keys(topicValues).length > 0) return false
  return kinds.length > 1 || Object.hasOwn(payload as object, 'kind')
}

/** A word that is no kind at all is left for the decoder to refuse; one that is a kind needs leave. */
function isAllowed(kind: string, kinds: readonly FeedKind[]): boolean {
  if ((kinds as readonly string[]).includes(kind)) return true
  return !((FEED_KINDS as readonly string[]).includes(kind) || OWN_KINDS.includes(kind))
}

/** Written by the service itself, never taken from a feed. */
const OWN_KINDS: readonly string[] = ['tick', 'register', 'rejected']

function pick(fields: Readonly<Record<string, string>>, payload: unknown): Record<string, unknown> {
  // Without a prototype a field called __proto__ is a field like any other.
  const picked = Object.create(null) as Record<string, unknown>
  for (const [field, path] of Object.entries(fields)) {
    const value = path === '.' ? payload : valueAt(payload, path)
    if (value !== undefined) picked[field] = value
  }
  return picked
}

function valueAt(payload: unknown, path: string): unknown {
  let current = payload
  for (const key of path.split('.')) {
    if (typeof current !== 'object' || current === null || !Object.hasOwn(current, key)) return undefined
    current = (current as Record<string, unknown>)[key]
  }
  return current
}

function translateTimes(written: 'rfc3339' | 'epochS' | 'epochMs', message: Record<string, unknown>): Fault[] {
  if (written === 'rfc3339') return []
  const faults: Fault[] = []
  for (const field of TIME_FIELDS) {
    const came = message[field]
    if (came === undefined) continue
    const count = numberOf(came)
    const ms = count === undefined ? Number.NaN : Math.floor(written === 'epochS' ? count * 1_000 : count)
    if (Math.abs(ms) <= LATEST_MS) message[field] = new Date(ms).toISOString()
    else faults.push(fault('invalid_field', fieldName(message, field), came, `must be a number of ${UNIT[written]}`))
  }
  return faults
}

const UNIT = { epochS: 'seconds since 1970', epochMs: 'milliseconds since 1970' } as const

/** A value sent as text is a number or a word about its quality; a reading of bad quality is counted, never used. */
function translateQuality(
  qualities: Readonly<Record<string, string>> | undefined,
  message: Record<string, unknown>,
): Fault[] {
  if (message.kind !== 'reading') return []
  if (qualities !== undefined && message.quality !== undefined) {
    const meaning = meaningOf(qualities, message.quality)
    if (meaning === undefined) {
      const rule = `must be one of the feed's qualities: ${Object.keys(qualities).join(', ')}`
      return [fault('invalid_field', 'reading.quality', message.quality, rule)]
    }
    message.quality = meaning
  }
  if (typeof message.value !== 'string') return []
  const value = numberOf(message.value)
  if (value !== undefined) {
    message.value = value
    return []
  }
  const said = meaningOf(qualities ?? {}, message.value)
  if (said !== 'bad')
    return [fault('invalid_field', 'reading.value', message.value, 'must be a number, or a word for bad quality')]
  message.value = VALUE_OF_BAD_QUALITY
  message.quality = 'bad'
  return []
}

/** A reading needs a number even where the plant sent a word instead; with bad quality it is never looked at. */
export const VALUE_OF_BAD_QUALITY = 0

/** The plant's own table first, then the usual words. */
function meaningOf(table: Readonly<Record<string, string>>, came: unknown): string | undefined {
  if (typeof came !== 'string' && typeof came !== 'number' && typeof came !== 'boolean') return undefined
  const key = String(came)
  return Object.hasOwn(table, key) ? table[key] : readQualityWord(key)
}

function numberOf(came: unknown): number | undefined {
  if (typeof came === 'number') return came
  return typeof came === 'string' && NUMERIC_TEXT.test(came.trim()) ? Number(came) : undefined
}

function fieldName(message: Readonly<Record<string, unknown>>, field: string): string {
  return typeof message.kind === 'string' ? `${message.kind}.${field}` : field
}

function refuse(code: Fault['code'], field: string, value: unknown, rule: string): Mapped {
  return { ok: false, faults: [fault(code, field, value, rule)] }
}

function fault(code: Fault['code'], field: string, value: unknown, rule: string): Fault {
  return { code, field, value: showValue(value), rule }
}
