import { setTimeout as wait } from 'node:timers/promises'
import { type Kafka, Partitioners, type Producer } from 'kafkajs'
import { eventually } from '../support/eventually.js'
import type { interleaved } from './kafkaPlants.js'
import type { KafkaRun } from './kafkaRun.js'

const CHUNK = 200

/**
 * Sends messages in order, never more than so many ahead of what the group has committed, so that they flow as long as
 * the run lasts. A chunk that failed is sent again: repeats are a matter of the members.
 * @returns how often a chunk had to be sent again
 */
export async function sendAhead(
  client: Kafka,
  run: KafkaRun,
  messages: ReturnType<typeof interleaved>,
  ahead: number,
): Promise<number> {
  let repeats = 0
  let producer = await connectProducer(client)
  for (let next = 0; next < messages.length;) {
    const room = (await run.taken()) + ahead - next
    if (room <= 0) {
      await wait(20)
      continue
    }
    const chunk = messages.slice(next, next + Math.min(CHUNK, room))
    try {
      for (const together of byKey(chunk)) await producer.send({ topic: run.topics.in, acks: -1, messages: together })
      next += chunk.length
    } catch {
      repeats++
      // It may wait for a broker that is gone.
      void producer.disconnect().catch(() => {})
      producer = await connectProducer(client)
    }
  }
  void producer.disconnect().catch(() => {})
  return repeats
}

/** One partition at a time: where a leader moves in mid-send the client leaves out what it has of others. */
function byKey<T extends { readonly key: string }>(messages: readonly T[]): T[][] {
  const keys = new Map<string, T[]>()
  for (const message of messages) keys.set(message.key, [...(keys.get(message.key) ?? []), message])
  return [...keys.values()]
}

/** A producer that fails where it cannot send for seconds, in place of trying for ever; waits until brokers are there. */
async function connectProducer(client: Kafka): Promise<Producer> {
  for (;;) {
    const producer = client.producer({
      idempotent: true,
      maxInFlightRequests: 1,
      createPartitioner: Partitioners.DefaultPartitioner,
      retry: { retries: 5 },
    })
    try {
      await producer.connect()
      return producer
    } catch {
      await wait(500)
    }
  }
}

const END = 'end'

/** All that a consumer that reads committed records only finds on a topic, in order within each partition. */
export async function readCommitted(client: Kafka, topic: string, partitions: number): Promise<readonly string[]> {
  // A record outside any transaction closes each partition; one that an open transaction holds back would never come.
  const producer = await connectProducer(client)
  const ends = Array.from({ length: partitions }, (_, partition) => ({ partition, key: END, value: END }))
  await producer.send({ topic, acks: -1, messages: ends })
  await producer.disconnect()
  const read = new Map<number, Map<string, string>>(ends.map(({ partition }) => [partition, new Map()]))
  const ended = new Set<number>()
  const consumer = client.consumer({ groupId: `reader-${topic}`, readUncommitted: false })
  await consumer.connect()
  await consumer.subscribe({ topic, fromBeginning: true })
  await consumer.run({
    eachMessage: async ({ partition, message }) => {
      if (message.key?.toString() === END) ended.add(partition)
      // By offset: what the reader is handed twice is one record.
      else read.get(partition)!.set(message.offset, message.value!.toString())
    },
  })
  await eventually(`${topic} is read to its end`, () => ended.size === partitions, 120_000)
  await consumer.disconnect()
  return [...read.values()].flatMap(records => [...records.values()])
}
