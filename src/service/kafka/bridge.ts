import { Buffer } from 'node:buffer'
import { hostname } from 'node:os'
import type { Logger } from 'pino'
import type { KafkaConnection } from '../../adapters/connectionsFile.js'
import type { OutRecord } from '../../adapters/kafka/partitionLog.js'
import { connectMqttFeed } from '../../adapters/mqttFeed.js'
import type { RecordedInput, Rejected } from '../../model/recordedInput.js'
import type { RemoteFeed } from '../feeds.js'
import { sparingly, tellConnection } from '../log.js'
import { FORWARD_LIMITS, type Forwarder } from './forwarder.js'
import { deadLetterRecord } from './outgoing.js'

/** A feed of a plant, read from its broker. */
export interface BridgedFeed {
  readonly plant: string
  readonly feed: RemoteFeed
}

export interface BridgeOptions {
  readonly feeds: readonly BridgedFeed[]
  readonly topics: KafkaConnection['topics']
  /** Name of the shared subscription that several bridges divide the messages of. */
  readonly shared: string | undefined
  readonly forwarder: Forwarder
  readonly log: Logger
  readonly now: () => number
}

/**
 * Copies what comes on feeds to the input topic, keyed by plant. A message is acknowledged when Kafka has it; what
 * cannot be read goes to the dead letters.
 * @returns what ends it
 */
export function startBridge(options: BridgeOptions): () => Promise<void> {
  const { feeds, topics, shared, forwarder, log, now } = options
  const refused = sparingly(now, messages => log.warn({ messages }, 'Messages refused'))
  const unread = sparingly(now, messages => log.warn({ messages }, 'Messages on topics that no feed reads'))
  const closers = feeds.map(({ plant, feed }) =>
    connectMqttFeed({
      broker: feed.broker,
      clientId: clientIdOf(plant, feed.name, shared),
      filter: shared === undefined ? feed.filter : `$share/${shared}/${feed.filter}`,
      receiveMaximum: 2 * FORWARD_LIMITS.records,
      deliver: ({ packet, acknowledge, next }) => {
        const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload
        const came = feed.read(packet.topic, payload, undefined)
        if (came === undefined) unread()
        const records = (came?.inputs ?? []).map(input => {
          const record = bridgedRecord(topics, plant, input, packet.topic)
          if (record.topic === topics.deadLetters) refused()
          return record
        })
        forwarder.offer(records, acknowledge, next)
      },
      news: tellConnection(log, { plant, feed: feed.name, url: feed.broker.url }),
    }),
  )
  return async () => {
    // First what was taken: acknowledging needs the connections.
    await forwarder.stop()
    await Promise.all(closers.map(close => close()))
  }
}

/** The record of one input: on the input topic, or among the dead letters where it could not be read. */
export function bridgedRecord(
  topics: KafkaConnection['topics'],
  plant: string,
  { feed, message }: RecordedInput,
  mqttTopic: string,
): OutRecord {
  const { kind, faults, excerpt } = message as Partial<Rejected>
  if (kind !== 'rejected' || faults === undefined) {
    return { topic: topics.in, key: plant, value: JSON.stringify(message), headers: { feed } }
  }
  const reason = faults[0]?.code ?? 'refused'
  const letter = { reason, faults, excerpt: excerpt ?? '', feed, position: mqttTopic }
  return deadLetterRecord(topics.deadLetters, plant, letter)
}

/** One name for each session: members of a shared subscription are told apart by their machine. */
function clientIdOf(plant: string, feed: string, shared: string | undefined): string {
  const own = `turbidrift:${plant}:bridge:${feed}`
  return shared === undefined ? own : `${own}:${shared}:${hostname()}`
}
