import { Buffer } from 'node:buffer'
import type { Logger } from 'pino'
import { connectMqttFeed } from '../adapters/mqttFeed.js'
import { BATCH_LIMITS } from './batcher.js'
import type { FeedHealth } from './feedHealth.js'
import type { RemoteFeed } from './feeds.js'
import { sparingly, tellConnection, UNREAD } from './log.js'
import type { PlantIntake } from './plantIntake.js'

export interface RemoteFeedOptions {
  readonly plant: string
  readonly log: Logger
  readonly now: () => number
  readonly health: FeedHealth
  /** The plant has inputs from before this start, and with them, as a rule, a session on the broker. */
  readonly isReturn: boolean
  /** The state of the feed may be another. */
  readonly changed: () => void
  readonly take: PlantIntake['remote']
}

/** Reads a feed from its broker: a message is acknowledged when it is on disk. @returns what ends it */
export function connectRemoteFeed(feed: RemoteFeed, options: RemoteFeedOptions): () => Promise<void> {
  const { plant, log, now, health, isReturn, changed, take } = options
  const { broker, name, filter } = feed
  const who = { feed: name, url: broker.url }
  const tell = tellConnection(log, who)
  let hadSession = isReturn
  const unread = sparingly<string>(now, (messages, topic) => log.warn({ ...who, messages, topic }, UNREAD))
  return connectMqttFeed({
    broker,
    clientId: `turbidrift:${plant}:feed:${name}`,
    filter,
    receiveMaximum: 2 * BATCH_LIMITS.maxItems,
    deliver: ({ packet, acknowledge, next }) => {
      const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload
      if (take(feed, packet.topic, payload, acknowledge, next)) return
      unread(packet.topic)
      acknowledge()
      next()
    },
    news: news => {
      tell(news)
      if (news.state === 'connected') {
        health.connected(name, now())
        if (hadSession && !news.sessionPresent) log.warn(who, SESSION_LOST)
        hadSession = true
      } else {
        // Refused counts too: a connection on which nothing may be read says nothing of analyzers.
        health.disconnected(name)
      }
      changed()
    },
  })
}

const SESSION_LOST =
  'The broker kept nothing for us, what was sent while we were away may be missing; have the senders repeat it'
