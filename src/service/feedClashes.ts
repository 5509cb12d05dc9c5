import { brokerAddress, loopbackAddress } from '../adapters/brokerAddress.js'
import type { Connections } from '../adapters/connectionsFile.js'
import { filtersOverlap } from '../adapters/filtersOverlap.js'
import { topicsOut } from '../adapters/mqttTopics.js'
import type { Feeds } from './feeds.js'

export interface PlantFeeds {
  readonly plant: string
  readonly feeds: Feeds
}

interface PlacedFeed {
  readonly plant: string
  readonly name: string
  readonly topic: string
  readonly filter: string
  readonly broker: string
  readonly isEmbedded: boolean
}

/**
 * What must not be between the feeds of all plants of a process and what it publishes: that the service reads its own
 * events, or takes a message twice. One sentence for each, with both sides.
 * @param embeddedPort of the embedded broker, which publishes the events of every plant; undefined where it does not run
 */
export function feedClashes(
  plants: readonly PlantFeeds[],
  connections: Connections,
  embeddedPort: number | undefined,
): string[] {
  const embedded = loopbackAddress(embeddedPort ?? 0)
  const feeds = plants.flatMap(plant => placed(plant, embedded))
  const publishing = new Set(
    [...connections.mqtt.values()].filter(broker => broker.publishEvents).map(({ url }) => brokerAddress(url)),
  )
  if (embeddedPort !== undefined) publishing.add(embedded)
  return feeds.flatMap((feed, index) => [
    ...(publishing.has(feed.broker) ? plants.flatMap(({ plant }) => ownEvents(feed, plant)) : []),
    ...feeds.slice(0, index).flatMap(other => takenTwice(other, feed)),
  ])
}

function placed({ plant, feeds }: PlantFeeds, embedded: string): PlacedFeed[] {
  return [
    ...feeds.embedded.map(feed => ({ ...feed, plant, broker: embedded, isEmbedded: true })),
    ...feeds.remote.map(feed => ({ ...feed, plant, broker: brokerAddress(feed.broker.url)!, isEmbedded: false })),
  ]
}

function ownEvents(feed: PlacedFeed, plant: string): string[] {
  const out = `${topicsOut(plant)}#`
  if (!filtersOverlap(feed.filter, out)) return []
  return [
    `${said(feed)} can match ${out}, where the service publishes the events of ${plant} on the same broker: it would read its own events; give the feed a topic that cannot match there`,
  ]
}

function takenTwice(a: PlacedFeed, b: PlacedFeed): string[] {
  // On the embedded broker the first feed of a plant whose topic fits takes a message, and no other of that plant.
  const isOrdered = a.isEmbedded && b.isEmbedded && a.plant === b.plant
  if (a.broker !== b.broker || isOrdered || !filtersOverlap(a.topic, b.topic)) return []
  return [
    `${said(a)} and ${said(b)} can match the same topic on ${a.isEmbedded ? 'the embedded broker' : a.broker}: a message there would be taken twice; give each a topic of its own`,
  ]
}

function said({ name, plant, topic }: PlacedFeed): string {
  return `feed ${name} of ${plant} (${topic})`
}
