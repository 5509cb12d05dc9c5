import { CompressionTypes, type Kafka, Partitioners, type Producer } from 'kafkajs'
import { lasting } from './kafkaErrors.js'
import type { Transaction, TransactionWriter } from './partitionLog.js'
import { type ProduceRequest, produceRequests } from './produceRequests.js'

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
    for (const request of produceRequests(records)) {
      await transaction.sendBatch({ acks: -1, compression: compressionOf(request), topicMessages: [request.messages] })
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

const SMALL_BYTES = 16_384

/** State shrinks to a seventh, and is compressed beside the thread that works; small records are not worth it. */
function compressionOf({ largestBytes }: ProduceRequest): CompressionTypes {
  return largestBytes > SMALL_BYTES ? CompressionTypes.GZIP : CompressionTypes.None
}
