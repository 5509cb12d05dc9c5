import type { TopicMessages } from 'kafkajs'
import type { OutRecord } from './partitionLog.js'

/** What the client is given at once: records of one partition. */
export interface ProduceRequest {
  readonly messages: TopicMessages
  /** Of the largest value in it. */
  readonly largestBytes: number
}

/** Brokers take up to a mebibyte in one record batch. */
export const REQUEST_BYTES = 900_000
const RECORD_OVERHEAD_BYTES = 100

/**
 * Parts records into requests of one partition each, in their order within it, none larger than `REQUEST_BYTES` unless
 * a single record is. Never several partitions at once: when kafkajs 2.2.4 tries a request again it remembers which
 * *brokers* have answered, not which partitions; where a leader has moved meanwhile it sends some partitions a second
 * time under new sequence numbers, which no broker takes for a repeat, and others not at all
 * (`producer/sendMessages.js`, `responsePerBroker`). Records of one key are of one partition.
 */
export function produceRequests(records: readonly OutRecord[]): ProduceRequest[] {
  const partitions = new Map<string, OutRecord[]>()
  for (const record of records) {
    const name = `${record.topic}\n${record.partition === undefined ? `key ${record.key}` : String(record.partition)}`
    const together = partitions.get(name)
    if (together === undefined) partitions.set(name, [record])
    else together.push(record)
  }
  return [...partitions.values()].flatMap(chunksOf)
}

function chunksOf(records: readonly OutRecord[]): ProduceRequest[] {
  const chunks: { messages: TopicMessages; largestBytes: number }[] = []
  let bytes = Number.POSITIVE_INFINITY
  for (const record of records) {
    const size = sizeOf(record)
    if (bytes + size > REQUEST_BYTES) {
      chunks.push({ messages: { topic: record.topic, messages: [] }, largestBytes: 0 })
      bytes = 0
    }
    const chunk = chunks.at(-1)!
    chunk.messages.messages.push(messageOf(record))
    chunk.largestBytes = Math.max(chunk.largestBytes, size)
    bytes += size
  }
  return chunks
}

function sizeOf({ value }: OutRecord): number {
  if (value === null) return RECORD_OVERHEAD_BYTES
  return RECORD_OVERHEAD_BYTES + (typeof value === 'string' ? Buffer.byteLength(value) : value.length)
}

function messageOf({ partition, key, value, headers, timestampMs }: OutRecord): TopicMessages['messages'][number] {
  return {
    key,
    value,
    ...(partition === undefined ? {} : { partition }),
    ...(headers === undefined ? {} : { headers }),
    ...(timestampMs === undefined ? {} : { timestamp: String(timestampMs) }),
  }
}
