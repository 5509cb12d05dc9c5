import { z } from 'zod'
import type { PlantEvent } from './events.js'

/** CloudEvents 1.0, JSON format. `type` is one of EVENT_TYPES behind a prefix. */
export const envelopeSchema = z.object({
  specversion: z.literal('1.0'),
  id: z.uuid(),
  source: z.string().min(1),
  type: z.string().min(1),
  subject: z.string().min(1),
  time: z.iso.datetime(),
  datacontenttype: z.literal('application/json'),
  /** Extension attribute: the software's version, set on the way out and left out of comparisons. */
  softwareversion: z.string().optional(),
  data: z.record(z.string(), z.unknown()),
})

export interface CloudEvent {
  readonly specversion: '1.0'
  readonly id: string
  readonly source: string
  readonly type: string
  readonly subject: string
  readonly time: string
  readonly datacontenttype: 'application/json'
  readonly softwareversion?: string
  readonly data: PlantEvent['data']
}

/** Wraps an event for the world. @param prefix such as `turbidrift` */
export function toCloudEvent(event: PlantEvent, prefix: string, softwareVersion?: string): CloudEvent {
  return {
    specversion: '1.0',
    id: event.id,
    source: event.source,
    type: `${prefix}.${event.type}`,
    subject: event.subject,
    time: event.time,
    datacontenttype: 'application/json',
    ...(softwareVersion === undefined ? {} : { softwareversion: softwareVersion }),
    data: event.data,
  }
}
