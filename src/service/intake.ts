import { Buffer } from 'node:buffer'
import type { DeclaredFeed } from '../adapters/feedRules.js'
import { type Feed, mapPayload } from '../adapters/mapping.js'
import { parseMessageBytes, rejected } from '../adapters/payload.js'
import type { SparkplugNews } from '../adapters/sparkplug/decode.js'
import { parseTopicTemplate, type TopicTemplate } from '../adapters/topicTemplate.js'
import { sayFault } from '../model/faults.js'
import type { RecordedInput } from '../model/recordedInput.js'
import type { RegisterFile } from '../model/register.js'
import { sparkplugSource } from './sparkplugSource.js'

/** A feed that is ready to read, whichever broker it comes from. */
export interface FeedSource {
  /** Its name. */
  readonly name: string
  /** What a broker is asked for. */
  readonly filter: string
  /**
   * Called once, before the first packet.
   * @param row reads what was written with the packets of earlier runs
   */
  readonly begin?: (row: (key: string) => string | undefined, tell: SourceListener) => void
  /**
   * Makes inputs of what came on a topic. What fails is an input all the same, of kind `rejected`, so that it is
   * recorded and counted like any other; a packet that holds several messages gives several.
   * @param receivedAt absent where plant time follows the messages: nobody's clock has a say in it then
   * @returns undefined where the topic is not one of the feed's
   */
  readonly read: (topic: string, payload: Uint8Array, receivedAt: string | undefined) => Came | undefined
}

/** What one packet gave. */
export interface Came {
  readonly inputs: readonly RecordedInput[]
  /** Rows of the store that change with it, to be written with the last of the inputs. */
  readonly rows?: ReadonlyMap<string, string>
}

/** What a source has to tell besides its inputs. */
export type SourceListener = (news: SparkplugNews) => void

export type OpenedSource =
  { readonly ok: true; readonly source: FeedSource } | { readonly ok: false; readonly problem: string }

/** Makes a feed ready, each type in its own way. */
export function openSource(feed: DeclaredFeed, file: RegisterFile): OpenedSource {
  if (feed.type === 'sparkplug') return { ok: true, source: sparkplugSource(feed, file) }
  const parsed = parseTopicTemplate(feed.topic)
  if (!parsed.ok) return { ok: false, problem: sayFault(parsed.fault) }
  const { template } = parsed
  return { ok: true, source: { name: feed.name, filter: template.filter, read: jsonReader(feed, template) } }
}

/** One JSON message in a packet: size, JSON, mapping, kinds the feed may carry. */
function jsonReader(feed: Feed, template: TopicTemplate): FeedSource['read'] {
  return (topic, payload, receivedAt) => {
    const topicValues = template.match(topic)
    if (topicValues === undefined) return undefined
    const came = { feed: feed.name, ...(receivedAt === undefined ? {} : { receivedAt }) }
    const parsed = parseMessageBytes(payload)
    if (!parsed.ok) return { inputs: [{ ...came, position: topic, message: parsed.rejected }] }
    const mapped = mapPayload(feed, topicValues, parsed.value)
    if (mapped.ok) return { inputs: [{ ...came, message: mapped.message }] }
    return { inputs: [{ ...came, position: topic, message: rejected(mapped.faults, beginning(payload)) }] }
  }
}

const EXCERPT_BYTES = 1_024

function beginning(payload: Uint8Array): string {
  return Buffer.from(payload.buffer, payload.byteOffset, payload.byteLength).toString('utf8', 0, EXCERPT_BYTES)
}
