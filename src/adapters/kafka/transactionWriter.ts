import { CompressionTypes, type Kafka, Partitioners, type Producer, type TopicMessages } from 'kafkajs'
import type { OutRecord, Transaction, TransactionWriter } from './partitionLog.js'
import { lasting } from './kafkaErrors.js'

/**
 * A producer of transactions. The producer id is fetched with the first transaction, and that is what fences the
 * former owner of the same transactional id: so one is opened at once, and ended empty.
 */
export async function openTransactionWriter(kafka: Kafka, id: string): Promise<TransactionWriter> {
  const producer = kafka.producer({
    transactionalId: id,
    idempotent: true,
    maxInFlightRequests: 1,
    allowAutoTopicCreation: false,
    createPartitioner: Partitioners.DefaultPartitioner,
    // The broker refuses a new transaction for some milliseconds after a commit; by default the client would then
    // wait 300 of them each time.
    retry: { initialRetryTime: 5, maxRetryTime: 50, retries: 50 },
  })
  try {
    await producer.connect()
    const first = await producer.transaction()
    await first.abort()
  } catch (error) {
    await producer.disconnect().catch(() => {})
    throw lasting(error)
  }
  let underWay: Promise<void> = Promise.resolve()
  return {
    commit: transaction => (underWay = commit(producer, transaction)),
    close: async () => {
      // Cut off in the middle of a transaction the client connects again by itself, and nobody closes that.
      await underWay.catch(() => {})
      await producer.disconnect().catch(() => {})
    },
  }
}

async function commit(producer: Producer, { group, records, offsets }: Transaction): Promise<void> {
  try {
    const transaction = await producer.transaction()
    for (const chunk of chunksOf(records)) {
      await transaction.sendBatch({ acks: -1, compression: compressionOf(chunk), topicMessages: byTopic(chunk) })
    }
    // After the records: adding offsets is not tried again where the last transaction's markers are still on the way.
    const topics = offsets.map(({ topic, partition, next }) => ({
      topic,
      partitions: [{ partition, offset: String(next) }],
    }))
    await transaction.sendOffsets({ consumerGroupId: group, topics })
    await transaction.commit()
  } catch (error) {
    throw lasting(error)
  }
}

/** The client makes one record batch of what it is given for a partition, and brokers take up to a mebibyte of that. */
export const CHUNK_BYTES = 900_000
const RECORD_OVERHEAD_BYTES = 100
const SMALL_BYTES = 16_384

/** Records in order, in as many requests as it takes to keep each below `CHUNK_BYTES`. */
export function chunksOf(records: readonly OutRecord[]): OutRecord[][] {
  const chunks: OutRecord[][] = []
  let bytes = Number.POSITIVE_INFINITY
  for (const record of records) {
    const size = sizeOf(record)
    if (bytes + size > CHUNK_BYTES) {
      chunks.push([])
      bytes = 0
    }
    chunks.at(-1)!.push(record)
    bytes += size
  }
  return chunks
}

function sizeOf({ value }: OutRecord): number {
  if (value === null) return RECORD_OVERHEAD_BYTES
  return RECORD_OVERHEAD_BYTES + (typeof value === 'string' ? Buffer.byteLength(value) : value.length)
}

/** State shrinks to a seventh, and is compressed beside the thread that works; small chunks are not worth it. */
function compressionOf(chunk: readonly OutRecord[]): CompressionTypes {
  return chunk.some(record => sizeOf(record) > SMALL_BYTES) ? CompressionTypes.GZIP : CompressionTypes.None
}

/** As the client wants them. */
export function byTopic(records: readonly OutRecord[]): TopicMessages[] {
  const topics = new Map<string, TopicMessages>()
  for (const { topic, partition, key, value, headers, timestampMs } of records) {
    let messages = topics.get(topic)
    if (messages === undefined) topics.set(topic, (messages = { topic, messages: [] }))
    messages.messages.push({
      key,
      value,
      ...(partition === undefined ? {} : { partition }),
      ...(headers === undefined ? {} : { headers }),
      ...(timestampMs === undefined ? {} : { timestamp: String(timestampMs) }),
    })
  }
  return [...topics.values()]
}
