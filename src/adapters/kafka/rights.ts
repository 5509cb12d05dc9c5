import kafkajs, { type Kafka, type Transaction } from 'kafkajs'
import type { KafkaConnection } from '../connectionsFile.js'
import { type CommittedReader, openCommittedReader } from './committedReader.js'
import { sayKafkaError, typesOf } from './kafkaErrors.js'

/**
 * The first permission a member lacks, in one sentence; undefined where it has all. Tried in a transaction that is
 * taken back, so that a missing one is told at the start and not with the first event.
 */
export async function missingRight(kafka: Kafka, connection: KafkaConnection): Promise<string | undefined> {
  const { group, topics } = connection
  const producer = kafka.producer({
    transactionalId: `${group}-${topics.in}-check`,
    idempotent: true,
    maxInFlightRequests: 1,
    allowAutoTopicCreation: false,
    createPartitioner: kafkajs.Partitioners.DefaultPartitioner,
    retry: { initialRetryTime: 20, retries: 10 },
  })
  let doing = 'transactions'
  let reader: CommittedReader | undefined
  try {
    reader = await openCommittedReader(kafka)
    for (const topic of [topics.in, topics.changelog]) {
      doing = `reading ${topic}`
      await reader.mayRead(topic)
    }
    await producer.connect()
    const transaction = await producer.transaction()
    for (const topic of writtenTopics(connection)) {
      doing = `writing to ${topic}`
      await tryToWrite(transaction, topic)
    }
    doing = `reading ${topics.in} as group ${group}`
    const place = { topic: topics.in, partitions: [{ partition: 0, offset: '0' }] }
    await transaction.sendOffsets({ consumerGroupId: group, topics: [place] })
    await transaction.abort()
    return undefined
  } catch (error) {
    if ((error as Error).name === 'KafkaJSGroupCoordinatorNotFound') return NO_COORDINATOR
    // Anything else, such as another member that looks at the same time, is none of this question.
    const isRefused = typesOf(error).some(type => type.endsWith('_AUTHORIZATION_FAILED'))
    return isRefused ? `${doing}: ${sayKafkaError(error, connection.tls !== undefined)}` : undefined
  } finally {
    await producer.disconnect().catch(() => {})
    await reader?.close()
  }
}

/** The client does not say why it finds none. */
const NO_COORDINATOR =
  'no permission to write transactions, or no broker that coordinates them: grant Write on transactional ids that begin with the name of the group'

/** The topics a member writes to. */
export function writtenTopics({ topics, keys }: KafkaConnection): readonly string[] {
  return [topics.changelog, topics.events, topics.deadLetters, ...(keys === 'rekey' ? [topics.rekeyed] : [])]
}

/**
 * Takes a partition into the transaction, for which the right to write is needed, without a record: the client then
 * fails over a compression it does not have, before it sends one.
 */
export async function tryToWrite(transaction: Transaction, topic: string): Promise<void> {
  try {
    await transaction.send({ topic, compression: kafkajs.CompressionTypes.Snappy, messages: [{ value: null }] })
  } catch (error) {
    if ((error as Error).name !== 'KafkaJSNotImplemented') throw error
  }
}
