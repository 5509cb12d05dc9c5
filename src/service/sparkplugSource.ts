import { decodeSparkplug, type SparkplugPlan } from '../adapters/sparkplug/decode.js'
import { metricTable } from '../adapters/sparkplug/metricTable.js'
import { restoreState } from '../adapters/sparkplug/stored.js'
import { sparkplugFilter } from '../adapters/sparkplug/topic.js'
import { resolvePlant } from '../model/plant.js'
import type { RegisterFile, SparkplugFeed } from '../model/register.js'
import type { FeedSource, SourceListener } from './intake.js'

/**
 * A feed of Sparkplug B. It only listens: an edge node can be asked for a rebirth by a command alone, and this service
 * writes to nothing. What it knows of births outlives restarts in the store.
 */
export function sparkplugSource(feed: SparkplugFeed, file: RegisterFile): FeedSource {
  const { name, group, node } = feed
  const { analyzers } = resolvePlant(file)
  const units = new Map([...analyzers].map(([id, { unit }]) => [id, unit]))
  const plan: SparkplugPlan = { feed: name, group, node, table: metricTable(feed.metrics, units) }
  let state = restoreState(name, units.keys(), () => undefined)
  let tell: SourceListener = () => {}
  return {
    name,
    filter: sparkplugFilter(group, node),
    begin: (row, listener) => {
      state = restoreState(name, units.keys(), row)
      tell = listener
    },
    read: (topic, payload, receivedAt) => {
      const decoded = decodeSparkplug(state, plan, topic, payload)
      if (decoded === undefined) return undefined
      for (const news of decoded.news) tell(news)
      const came = { feed: name, ...(receivedAt === undefined ? {} : { receivedAt }) }
      const { messages, refused, rows } = decoded
      return {
        inputs: [
          ...messages.map(message => ({ ...came, message })),
          ...(refused === undefined ? [] : [{ ...came, position: topic, message: refused }]),
        ],
        rows,
      }
    },
  }
}
