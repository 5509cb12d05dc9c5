import type { Buffer } from 'node:buffer'
import { type Feed, mapPayload } from '../../adapters/mapping.js'
import { parseMessageBytes, rejected } from '../../adapters/payload.js'
import type { LogRecord } from '../../adapters/kafka/partitionLog.js'
import { type Fault, showValue } from '../../model/faults.js'
import type { FeedKind } from '../../model/messages.js'
import { isName, NAME_RULE } from '../../model/names.js'
import type { RecordedInput, Rejected } from '../../model/recordedInput.js'
import { journaled } from '../journaled.js'

/** Name of the feed of records whose header names none. */
export const DEFAULT_FEED = 'kafka'

export interface ReadRecordOptions {
  readonly ticks: 'clock' | 'event'
  readonly kinds: readonly FeedKind[]
}

/**
 * Makes an input of a record. The topic is the journal: the same record gives the same input whenever it is read, and
 * one that no journal of canonical JSON could hold is refused here as it is there.
 * @param place `topic/partition@offset`, asked for where the record is refused
 */
export function recordInput(
  record: LogRecord,
  { ticks, kinds }: ReadRecordOptions,
  place: () => string,
): RecordedInput {
  const feed = feedOf(record)
  const came = {
    feed: isName(feed) ? feed : DEFAULT_FEED,
    ...(ticks === 'event' ? {} : { receivedAt: new Date(record.timestampMs).toISOString() }),
  }
  const refused = (message: Rejected): RecordedInput => ({ ...came, position: place(), message })
  if (!isName(feed)) {
    const fault: Fault = {
      code: 'invalid_field',
      field: 'header feed',
      value: showValue(feed),
      rule: `must be ${NAME_RULE}`,
    }
    return refused(rejected([fault], beginning(record.value)))
  }
  const parsed = parseMessageBytes(record.value ?? EMPTY)
  if (!parsed.ok) return refused(parsed.rejected)
  const { value } = parsed
  if (isPlain(value) && (kinds as readonly unknown[]).includes(value.kind)) return { ...came, message: value }
  const mapped = mapPayload({ ...MAPPING, name: feed, kinds: [...kinds] }, {}, value)
  if (!mapped.ok) return refused(rejected(mapped.faults, beginning(record.value)))
  return journaled({ ...came, message: mapped.message }).input
}

const EMPTY = new Uint8Array(0)
const EXCERPT_BYTES = 1_024
const MAPPING: Pick<Feed, 'type' | 'topic'> = { type: 'mqtt', topic: '#' }

export function beginning(value: Buffer | null): string {
  return value === null ? '' : value.toString('utf8', 0, EXCERPT_BYTES)
}

function feedOf({ headers }: LogRecord): unknown {
  const { feed } = headers
  if (feed === undefined) return DEFAULT_FEED
  return feed instanceof Uint8Array || typeof feed === 'string' ? feed.toString() : feed
}

/**
 * An object whose members are words, truth values and numbers that canonical JSON writes as they are: going through it
 * would change nothing.
 */
function isPlain(value: unknown): value is Readonly<Record<string, unknown>> {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return false
  for (const key in value) {
    const member = (value as Record<string, unknown>)[key]
    if (typeof member === 'number') {
      if (!Number.isFinite(member) || Object.is(member, -0)) return false
    } else if (typeof member !== 'string' && typeof member !== 'boolean') return false
  }
  return true
}
