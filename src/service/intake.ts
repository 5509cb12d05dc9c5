import { Buffer } from 'node:buffer'
import { type Feed, mapPayload } from '../adapters/mapping.js'
import { parseMessageBytes, rejected } from '../adapters/payload.js'
import type { TopicTemplate } from '../adapters/topicTemplate.js'
import type { RecordedInput } from '../model/recordedInput.js'

export interface FeedSource {
  readonly feed: Feed
  readonly template: TopicTemplate
}

/**
 * Makes an input of what came on a topic: size, JSON, mapping, kinds the feed may carry. What fails is an input all
 * the same, of kind `rejected`, so that it is recorded and counted like any other.
 * @param receivedAt absent where plant time follows the messages: nobody's clock has a say in it then
 * @returns undefined where the topic is not one of the feed's
 */
export function inputFrom(
  { feed, template }: FeedSource,
  topic: string,
  payload: Uint8Array,
  receivedAt: string | undefined,
): RecordedInput | undefined {
  const topicValues = template.match(topic)
  if (topicValues === undefined) return undefined
  const came = { feed: feed.name, ...(receivedAt === undefined ? {} : { receivedAt }) }
  const parsed = parseMessageBytes(payload)
  if (!parsed.ok) return { ...came, position: topic, message: parsed.rejected }
  const mapped = mapPayload(feed, topicValues, parsed.value)
  if (mapped.ok) return { ...came, message: mapped.message }
  return { ...came, position: topic, message: rejected(mapped.faults, beginning(payload)) }
}

const EXCERPT_BYTES = 1_024

function beginning(payload: Uint8Array): string {
  return Buffer.from(payload.buffer, payload.byteOffset, payload.byteLength).toString('utf8', 0, EXCERPT_BYTES)
}
