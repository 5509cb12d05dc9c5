import type { LogRecord, OutRecord } from '../../adapters/kafka/partitionLog.js'
import { canonicalJson } from '../../model/canonicalJson.js'
import { toCloudEvent } from '../../model/cloudEvent.js'
import type { PlantEvent } from '../../model/events.js'
import type { Fault } from '../../model/faults.js'
import type { RecordedInput, Rejected } from '../../model/recordedInput.js'
import { beginning } from './recordInput.js'

/** The CloudEvents 1.0 Kafka protocol binding's structured mode (§3.3) asks for this type. */
const EVENT_HEADERS = { 'content-type': 'application/cloudevents+json' }
const JSON_HEADERS = { 'content-type': 'application/json' }

export function eventRecord(
  topic: string,
  event: PlantEvent,
  { prefix, softwareVersion }: { readonly prefix: string; readonly softwareVersion: string },
): OutRecord {
  const value = canonicalJson(toCloudEvent(event, prefix, softwareVersion))
  return { topic, key: event.source, value, headers: EVENT_HEADERS }
}

/** What is told of a message that could not be taken. */
export interface DeadLetter {
  /** One word for counting: a fault's code, or what is wrong with the key. */
  readonly reason: string
  readonly faults: readonly Fault[]
  readonly excerpt: string
  readonly feed: string
  /** `topic/partition@offset`, or the MQTT topic. */
  readonly position: string
}

/** @param key the plant, or the input partition where nobody knows the plant */
export function deadLetterRecord(topic: string, key: string, letter: DeadLetter): OutRecord {
  return { topic, key, value: canonicalJson(letter), headers: JSON_HEADERS }
}

/** The dead letter of an input the core refused. */
export function refusedInput(
  input: RecordedInput,
  faults: readonly Fault[],
  record: LogRecord,
  position: string,
): DeadLetter {
  const { excerpt } = input.message as Partial<Rejected>
  const isRejected = (input.message as Partial<Rejected>).kind === 'rejected' && typeof excerpt === 'string'
  return {
    reason: faults[0]?.code ?? 'refused',
    faults,
    excerpt: isRejected && excerpt !== '' ? excerpt : beginning(record.value),
    feed: input.feed,
    position,
  }
}
