import type { Feed } from '../adapters/mapping.js'
import { TOPIC_IN } from '../adapters/mqttTopics.js'
import { parseTopicTemplate } from '../adapters/topicTemplate.js'
import { sayFault } from '../model/faults.js'
import type { FeedKind } from '../model/messages.js'
import type { RegisterFile } from '../model/register.js'
import type { FeedSource } from './intake.js'

export interface Feeds {
  /** Served by the embedded broker, in the order of the register: the first whose topic fits takes a message. */
  readonly embedded: readonly FeedSource[]
  /** Read from brokers of the plant. */
  readonly remote: readonly (FeedSource & { readonly url: string })[]
}

export type ResolvedFeeds =
  { readonly ok: true; readonly feeds: Feeds } | { readonly ok: false; readonly problem: string }

/** Name of the feed the embedded broker has when the register declares none for it. */
export const DEFAULT_FEED = 'in'

/**
 * The feeds of a register. One without `url` is the embedded broker's; a register without feeds gets one for whole
 * messages on `turbidrift/in/#`.
 * @param defaultKinds kinds that one may carry; work records and answers only where somebody said so
 */
export function resolveFeeds(file: RegisterFile, defaultKinds: readonly FeedKind[]): ResolvedFeeds {
  const declared: readonly Feed[] = file.feeds ?? [
    { name: DEFAULT_FEED, type: 'mqtt', topic: TOPIC_IN, kinds: [...defaultKinds] },
  ]
  const embedded: FeedSource[] = []
  const remote: (FeedSource & { url: string })[] = []
  for (const feed of declared) {
    const parsed = parseTopicTemplate(feed.topic)
    if (!parsed.ok) return { ok: false, problem: `feed ${feed.name}: ${sayFault(parsed.fault)}` }
    const source = { feed, template: parsed.template }
    if (feed.url === undefined) embedded.push(source)
    else remote.push({ ...source, url: feed.url })
  }
  return { ok: true, feeds: { embedded, remote } }
}
