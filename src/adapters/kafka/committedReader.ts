import { type Admin, type Cluster, type Kafka, PartitionAssigners } from 'kafkajs'
import { type AbortedTransaction, committedRecords, type FetchedRecord } from './committedRecords.js'
import { lasting } from './kafkaErrors.js'
import type { PartitionLog } from './partitionLog.js'

export type CommittedReader = Omit<PartitionLog, 'openWriter'> & {
  /** Throws where we have no permission to read a topic, though there be nothing in it. */
  readonly mayRead: (topic: string) => Promise<void>
  readonly close: () => Promise<void>
}

/**
 * Reads partitions from where one says, outside any group: a state is restored in the time it takes to read it, where
 * a consumer of its own would first found a group and wait for others to join it.
 */
export async function openCommittedReader(kafka: Kafka): Promise<CommittedReader> {
  const cluster = clusterOf(kafka)
  const admin = kafka.admin()
  await cluster.connect()
  await admin.connect()
  const guarded = async <T>(work: () => Promise<T>): Promise<T> => {
    try {
      return await work()
    } catch (error) {
      // The next try is to know where the leader is now.
      await cluster.refreshMetadata().catch(() => {})
      throw lasting(error)
    }
  }
  return {
    read: (topic, partition, range, take) => guarded(() => read(cluster, topic, partition, range, take)),
    bounds: (topic, partition) => guarded(() => bounds(cluster, topic, partition)),
    committedOffset: (group, topic, partition) => guarded(() => committedOffset(admin, group, topic, partition)),
    mayRead: topic =>
      guarded(async () => {
        const { end } = await bounds(cluster, topic, 0)
        await fetchFrom(cluster, topic, 0, end, FETCH_BYTES)
      }),
    close: async () => {
      await cluster.disconnect().catch(() => {})
      await admin.disconnect().catch(() => {})
    },
  }
}

/** The client hands its connections to assigners of partitions, and nowhere else; a consumer that is never run asks one. */
function clusterOf(kafka: Kafka): Cluster {
  let cluster: Cluster | undefined
  kafka.consumer({
    groupId: 'never-joined',
    allowAutoTopicCreation: false,
    partitionAssigners: [
      given => {
        cluster = given.cluster
        return PartitionAssigners.roundRobin(given)
      },
    ],
  })
  if (cluster === undefined) throw new Error('the Kafka client no longer hands its connections to assigners')
  return cluster
}

async function bounds(cluster: Cluster, topic: string, partition: number): Promise<{ first: number; end: number }> {
  await cluster.addMultipleTargetTopics([topic])
  const ask = async (fromBeginning: boolean): Promise<number> => {
    const [told] = await cluster.fetchTopicsOffset([{ topic, partitions: [{ partition }], fromBeginning }])
    return Number(told!.partitions[0]!.offset)
  }
  return { first: await ask(true), end: await ask(false) }
}

async function committedOffset(
  admin: Admin,
  groupId: string,
  topic: string,
  partition: number,
): Promise<number | undefined> {
  const [told] = await admin.fetchOffsets({ groupId, topics: [topic] })
  const offset = Number(told?.partitions.find(one => one.partition === partition)?.offset ?? -1)
  return offset < 0 ? undefined : offset
}

const FETCH_BYTES = 1_048_576
const LARGEST_FETCH_BYTES = 67_108_864
const READ_COMMITTED = 1

async function read(
  cluster: Cluster,
  topic: string,
  partition: number,
  range: { readonly from: number; readonly to: number },
  take: Parameters<PartitionLog['read']>[3],
): Promise<void> {
  await cluster.addMultipleTargetTopics([topic])
  let next = range.from
  let maxBytes = FETCH_BYTES
  while (next < range.to) {
    const { messages, abortedTransactions } = await fetchFrom(cluster, topic, partition, next, maxBytes)
    const last = messages.at(-1)
    if (last === undefined) {
      // Compaction leaves batches without records, which the client does not show: look further, then step over.
      if (maxBytes < LARGEST_FETCH_BYTES) maxBytes *= 8
      else next++
      continue
    }
    const from = next
    const committed = committedRecords(messages, abortedTransactions)
    await take(committed.filter(({ offset }) => offset >= from && offset < range.to))
    next = Number(last.offset) + 1
    maxBytes = FETCH_BYTES
  }
}

async function fetchFrom(
  cluster: Cluster,
  topic: string,
  partition: number,
  from: number,
  maxBytes: number,
): Promise<FetchedPartition> {
  const [nodeId] = Object.keys(cluster.findLeaderForPartitions(topic, [partition]))
  const broker = await cluster.findBroker({ nodeId: nodeId! })
  const answer = (await broker.fetch({
    isolationLevel: READ_COMMITTED,
    maxWaitTime: 100,
    minBytes: 1,
    maxBytes,
    topics: [{ topic, partitions: [{ partition, fetchOffset: String(from), maxBytes }] }],
  })) as FetchAnswer
  return answer.responses[0]!.partitions[0]!
}

interface FetchAnswer {
  readonly responses: readonly { readonly partitions: readonly FetchedPartition[] }[]
}

interface FetchedPartition {
  readonly messages: readonly FetchedRecord[]
  readonly abortedTransactions: readonly AbortedTransaction[] | null
}
