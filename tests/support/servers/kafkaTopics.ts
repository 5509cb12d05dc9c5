import type { Admin, Kafka } from 'kafkajs'
import { eventually } from '../eventually.js'

export interface WantedTopic {
  readonly topic: string
  readonly partitions: number
  /** Settings of the topic, such as `cleanup.policy`. */
  readonly settings?: Readonly<Record<string, string>>
}

/** Makes topics with as many replicas as there are brokers, and waits until all of them are there. */
export async function createTopics(client: Kafka, brokers: number, topics: readonly WantedTopic[]): Promise<void> {
  await withAdmin(client, async admin => {
    const wanted = topics.map(({ topic, partitions, settings = {} }) => ({
      topic,
      numPartitions: partitions,
      replicationFactor: brokers,
      configEntries: Object.entries(settings).map(([name, value]) => ({ name, value })),
    }))
    // Asked to wait for leaders the client can fail with several brokers although the topics are made.
    await admin.createTopics({ topics: wanted, waitForLeaders: false })
    const made = async () => {
      const told = await admin.fetchTopicMetadata({ topics: wanted.map(({ topic }) => topic) })
      return told.topics.every(({ name, partitions }) => {
        const { numPartitions } = wanted.find(({ topic }) => topic === name)!
        const ready = partitions.filter(({ leader, isr }) => leader >= 0 && isr.length === brokers)
        return ready.length === numPartitions
      })
    }
    await eventually('all partitions have leader and replicas', () => made().catch(() => false))
  })
}

/** Number of the broker that leads a partition now. */
export async function leaderOf(client: Kafka, topic: string, partition: number): Promise<number> {
  return withAdmin(client, async admin => {
    const told = await admin.fetchTopicMetadata({ topics: [topic] })
    const found = told.topics[0]?.partitions.find(({ partitionId }) => partitionId === partition)
    if (found === undefined) throw new Error(`there is no ${topic}/${partition}`)
    return found.leader
  })
}

async function withAdmin<T>(client: Kafka, ask: (admin: Admin) => Promise<T>): Promise<T> {
  const admin = client.admin()
  await admin.connect()
  try {
    return await ask(admin)
  } finally {
    await admin.disconnect()
  }
}
