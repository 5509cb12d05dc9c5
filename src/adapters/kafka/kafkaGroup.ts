import type { Consumer, EachBatchPayload, Kafka } from 'kafkajs'
import type { KafkaConnection } from '../connectionsFile.js'
import { toLogRecord } from './committedRecords.js'
import { groupAssigner } from './groupAssigner.js'
import { lasting } from './kafkaErrors.js'
import type { Group, GroupHandlers, Membership } from './partitionLog.js'

export type KafkaGroupOptions = Pick<KafkaConnection, 'group' | 'sessionS'>

const LONGEST_HEARTBEAT_MS = 3_000
const HEARTBEATS_A_SESSION = 10
const REBALANCE_TIMEOUT_MS = 30_000
const FETCH_WAIT_MS = 250
/** A batch handler mostly waits for the broker, so all partitions may be at it at the same time. */
const PARTITIONS_AT_ONCE = 64

/** The consumer group, as a member of it. */
export function kafkaGroup(kafka: Kafka, options: KafkaGroupOptions): Group {
  return { join: (topics, handlers) => join(kafka, options, topics, handlers) }
}

async function join(
  kafka: Kafka,
  { group, sessionS }: KafkaGroupOptions,
  topics: readonly string[],
  handlers: GroupHandlers,
): Promise<Membership> {
  let held: readonly number[] = []
  let beat: (() => Promise<void>) | undefined
  const consumer = kafka.consumer({
    groupId: group,
    partitionAssigners: [groupAssigner(() => held)],
    sessionTimeout: sessionS * 1_000,
    heartbeatInterval: Math.min((sessionS * 1_000) / HEARTBEATS_A_SESSION, LONGEST_HEARTBEAT_MS),
    rebalanceTimeout: REBALANCE_TIMEOUT_MS,
    maxWaitTimeInMs: FETCH_WAIT_MS,
    allowAutoTopicCreation: false,
  })
  const whole = (partition: number) => topics.map(topic => ({ topic, partitions: [partition] }))
  // Between a failure and its next try the client is in no group, and what is said of partitions then throws.
  let joined = false
  const membership: Membership = {
    pause: partition => {
      if (joined) consumer.pause(whole(partition))
    },
    resumeAt: (partition, offsets) => {
      if (!joined) return
      for (const [topic, offset] of offsets) consumer.seek({ topic, partition, offset: String(offset) })
      consumer.resume(whole(partition))
    },
    confirm: async () => {
      if (!joined) throw new Error('in no group at the moment')
      await beat?.()
    },
    quiesce: () => {
      if (joined) consumer.pause(topics.map(topic => ({ topic })))
    },
    leave: () => consumer.disconnect(),
  }
  consumer.on(consumer.events.GROUP_JOIN, ({ payload }) => {
    joined = true
    // The one at hand asks the coordinator of before, who may be gone.
    beat = undefined
    held = Object.values(payload.memberAssignment)[0] ?? []
    // Before anything of the new assignment is fetched: each goes on from where its own state says.
    for (const partition of held) consumer.pause(whole(partition))
    handlers.assigned(held, membership)
  })
  consumer.on(consumer.events.STOP, () => {
    joined = false
  })
  consumer.on(consumer.events.CRASH, ({ payload }) => {
    if (!payload.restart) handlers.ended(lasting(payload.error), membership)
  })
  await consumer.connect()
  await consumer.subscribe({ topics: [...topics], fromBeginning: true })
  void run(consumer, handlers, payload => {
    beat = () => payload.heartbeat()
  }).catch((error: unknown) => handlers.ended(lasting(error), membership))
  return membership
}

async function run(
  consumer: Consumer,
  handlers: GroupHandlers,
  came: (payload: EachBatchPayload) => void,
): Promise<void> {
  await consumer.run({
    autoCommit: false,
    eachBatchAutoResolve: false,
    partitionsConsumedConcurrently: PARTITIONS_AT_ONCE,
    eachBatch: async payload => {
      came(payload)
      const { batch } = payload
      if (payload.isStale() || !payload.isRunning()) return
      const last = batch.lastOffset()
      const taken = await handlers.batch(
        {
          topic: batch.topic,
          partition: batch.partition,
          first: Number(batch.firstOffset()),
          next: Number(last) + 1,
          end: Number(batch.highWatermark),
          records: batch.messages.map(toLogRecord),
        },
        () => payload.heartbeat(),
      )
      // The last visible record stands for the markers after it as well.
      if (taken && !payload.isStale()) payload.resolveOffset(batch.messages.at(-1)!.offset)
    },
  })
}
