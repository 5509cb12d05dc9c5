import { brokerAt, type Connections, type MqttBroker } from '../adapters/connectionsFile.js'
import { type DeclaredFeed, feedTopic } from '../adapters/feedRules.js'
import { TOPIC_IN } from '../adapters/mqttTopics.js'
import type { FeedKind } from '../model/messages.js'
import type { RegisterFile } from '../model/register.js'
import { type FeedSource, openSource } from './intake.js'

export interface PlantFeed extends FeedSource {
  /** As the register writes it, names in braces included: the broker is asked for more than the feed takes. */
  readonly topic: string
}

export interface RemoteFeed extends PlantFeed {
  readonly broker: MqttBroker
}

export interface Feeds {
  /** Served by the embedded broker, in the order of the register: the first whose topic fits takes a message. */
  readonly embedded: readonly PlantFeed[]
  /** Read from brokers of the plant. */
  readonly remote: readonly RemoteFeed[]
}

export type ResolvedFeeds =
  { readonly ok: true; readonly feeds: Feeds } | { readonly ok: false; readonly problems: readonly string[] }

export interface FeedSettings {
  readonly connections: Connections
  /** Kinds the feed may carry that a register without feeds gets; work records and answers only where somebody said so. */
  readonly defaultKinds: readonly FeedKind[]
  /** False where the process serves other plants as well. */
  readonly alone: boolean
}

/** Name of the feed the embedded broker has when the register declares none for it. */
const DEFAULT_FEED = 'in'

/**
 * The feeds of a register, each with its broker: the one it names, or the embedded one. A register without feeds gets
 * one for whole messages on `turbidrift/in/#`, where it is the only register: a message does not say its plant.
 */
export function resolveFeeds(file: RegisterFile, { connections, defaultKinds, alone }: FeedSettings): ResolvedFeeds {
  if (file.feeds === undefined && !alone) {
    const rule = `must declare its feeds where several plants are served: nothing in a message on ${TOPIC_IN} says whose it is`
    return { ok: false, problems: [`the register of ${file.plant} ${rule}`] }
  }
  const declared: readonly DeclaredFeed[] = file.feeds ?? [
    { name: DEFAULT_FEED, type: 'mqtt', topic: TOPIC_IN, kinds: [...defaultKinds] },
  ]
  const embedded: PlantFeed[] = []
  const remote: RemoteFeed[] = []
  const problems: string[] = []
  for (const feed of declared) {
    const tell = (problem: string) => problems.push(`feed ${feed.name} of ${file.plant}: ${problem}`)
    const opened = openSource(feed, file)
    if (!opened.ok) {
      tell(opened.problem)
      continue
    }
    const source = { ...opened.source, topic: feedTopic(feed) }
    if (feed.url !== undefined) remote.push({ ...source, broker: brokerAt(feed.url) })
    else if (feed.connection === undefined) embedded.push(source)
    else {
      const broker = connections.mqtt.get(feed.connection)
      if (broker === undefined) tell(`connection ${feed.connection} ${missing(connections)}`)
      else remote.push({ ...source, broker })
    }
  }
  return problems.length > 0 ? { ok: false, problems } : { ok: true, feeds: { embedded, remote } }
}

function missing({ mqtt }: Connections): string {
  const names = [...mqtt.keys()]
  return names.length === 0
    ? 'stands in no file of connections: name the file that has it with --connections'
    : `must be one of the brokers in the connections: ${names.join(', ')}`
}
