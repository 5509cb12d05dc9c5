import type { RegisterFault } from '../model/checkRegister.js'
import type { RegisterFile } from '../model/register.js'
import { showSetting } from '../model/settingValue.js'
import { brokerAddress } from './brokerAddress.js'
import { DROP_FEED } from './dropFolder.js'
import { filtersOverlap } from './filtersOverlap.js'
import { topicsOut } from './mqttTopics.js'
import { sparkplugFilter } from './sparkplug/topic.js'
import { parseTopicTemplate } from './topicTemplate.js'

export type DeclaredFeed = NonNullable<RegisterFile['feeds']>[number]

/** What a feed is sent, as a filter or a template for one. */
export function feedTopic(feed: DeclaredFeed): string {
  return feed.type === 'mqtt' ? feed.topic : sparkplugFilter(feed.group, feed.node)
}

/** The rules on feeds that one register is enough to check; `feedClashes` has those between plants and connections. */
export function feedFaults(file: RegisterFile): RegisterFault[] {
  const feeds = file.feeds ?? []
  return feeds.flatMap((feed, index) => {
    const faults = [...nameFaults(feed, index), ...urlFaults(feed, index)]
    const topic = feedTopic(feed)
    const rule = topicRule(topic) ?? outputRule(feed, file.plant) ?? twiceRule(feed, feeds.slice(0, index))
    const path = ['feeds', index, feed.type === 'mqtt' ? 'topic' : 'group']
    return rule === undefined ? faults : [...faults, faultAt(path, topic, rule)]
  })
}

/** In the journal the name of a feed says where an input came from; these are the service's own. */
const OWN_NAMES: readonly string[] = ['clock', DROP_FEED, 'service']

function nameFaults({ name }: DeclaredFeed, index: number): RegisterFault[] {
  if (!OWN_NAMES.includes(name)) return []
  return [
    faultAt(
      ['feeds', index, 'name'],
      name,
      `must be none of ${OWN_NAMES.join(', ')}: the service calls its own inputs so`,
    ),
  ]
}

function urlFaults({ url }: DeclaredFeed, index: number): RegisterFault[] {
  if (url === undefined || brokerAddress(url) !== undefined) return []
  const rule = 'must be mqtt://host:port, or mqtts://host:port for TLS'
  return [faultAt(['feeds', index, 'url'], url, rule)]
}

function topicRule(topic: string): string | undefined {
  if (topic.startsWith('$share/')) {
    return 'must be no shared subscription: the broker would hand each member a part of the record of one analyzer, and no member could judge it; only turbidrift bridge can share one'
  }
  const parsed = parseTopicTemplate(topic)
  return parsed.ok ? undefined : parsed.fault.rule
}

/** What the embedded broker carries of the service's own; for other brokers it depends on the connections. */
function outputRule(feed: DeclaredFeed, plant: string): string | undefined {
  if (feed.url !== undefined || feed.connection !== undefined) return undefined
  const out = `${topicsOut(plant)}#`
  // By what the broker is asked for: it sends that, whatever the template then takes.
  const parsed = parseTopicTemplate(feedTopic(feed))
  if (!parsed.ok || !filtersOverlap(parsed.template.filter, out)) return undefined
  return `must not match topics under ${out}, where the service publishes on the same broker: it would read its own events`
}

function twiceRule(feed: DeclaredFeed, earlier: readonly DeclaredFeed[]): string | undefined {
  const other = earlier.find(
    each =>
      isSameBroker(each, feed) &&
      topicRule(feedTopic(each)) === undefined &&
      filtersOverlap(feedTopic(each), feedTopic(feed)),
  )
  if (other === undefined) return undefined
  return `must not match topics that the feed ${other.name} (${feedTopic(other)}) takes from the same broker: a message there would be taken twice`
}

/** Not so on the embedded broker: there the first feed whose topic fits takes a message, and no other. */
function isSameBroker(a: DeclaredFeed, b: DeclaredFeed): boolean {
  if (a.connection !== undefined) return a.connection === b.connection
  return a.url !== undefined && b.url !== undefined && brokerAddress(a.url) === brokerAddress(b.url)
}

function faultAt(path: readonly (string | number)[], value: unknown, rule: string): RegisterFault {
  return { code: 'invalid_field', field: path.map(String).join('.'), value: showSetting(path, value), rule, path }
}
