import { get } from 'sparkplug-payload'

/** The reference encoder of Sparkplug B: written by others, from the same description. */
const { encodePayload } = get('spBv1.0')!
type Payload = Parameters<typeof encodePayload>[0]
export type SentMetric = NonNullable<Payload['metrics']>[number]

export const T0 = Date.UTC(2026, 4, 9, 10, 15)
export const GROUP = 'Hollin Weir'

/** A metric as an edge node sends it. */
export function metric(
  name: string | undefined,
  more: Partial<SentMetric> & Pick<SentMetric, 'type' | 'value'>,
): SentMetric {
  return { ...(name === undefined ? {} : { name }), timestamp: T0, ...more }
}

export function float(name: string | undefined, value: number, more: Partial<SentMetric> = {}): SentMetric {
  return metric(name, { type: 'Float', value, ...more })
}

export function bdSeq(value: number): SentMetric {
  return metric('bdSeq', { type: 'Int64', value })
}

export function encode(seq: number | undefined, metrics: readonly SentMetric[], timestamp: number = T0): Uint8Array {
  return encodePayload({ timestamp, ...(seq === undefined ? {} : { seq }), metrics: [...metrics] })
}

export function topicOf(kind: string, node = 'Filters', device?: string): string {
  return `spBv1.0/${GROUP}/${kind}/${node}${device === undefined ? '' : `/${device}`}`
}
