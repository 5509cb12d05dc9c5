import { z } from 'zod'
import { envelopeSchema } from '../../model/cloudEvent.js'
import { DATA_SCHEMA_BY_TYPE } from '../../model/events.js'
import { type Kind, readingSchema, SCHEMA_BY_KIND } from '../../model/messages.js'
import { serviceStatusSchema } from '../../model/serviceStatus.js'
import type { EventType } from '../../model/vocabulary.js'
import { EVENT_DESCRIPTION, KIND_DESCRIPTION, SERVICE_STATUS, SERVICE_STATUS_DESCRIPTION } from './descriptions.js'

/** AsyncAPI 3.0.0 understands draft 7 without an extension; for all else the newest draft is used. */
export type Draft = 'draft-2020-12' | 'draft-7'
export type JsonSchema = Readonly<Record<string, unknown>>

/** JSON Schema of a message in. Rules that need two fields stand in its description. */
export function messageSchema(kind: Kind, draft: Draft = 'draft-2020-12'): JsonSchema {
  return describe(
    { id: `urn:turbidrift:in:${kind}`, title: kind, description: KIND_DESCRIPTION[kind] },
    z.toJSONSchema(SCHEMA_BY_KIND[kind], { io: 'input', target: draft, override: sayInstants }),
  )
}

/** JSON Schema of an event out: the CloudEvents envelope with its data. @param prefix of the type */
export function eventSchema(type: EventType, prefix: string, draft: Draft = 'draft-2020-12'): JsonSchema {
  const schema = envelopeSchema.extend({ type: z.literal(`${prefix}.${type}`), data: DATA_SCHEMA_BY_TYPE[type] })
  return describe(
    { id: `urn:turbidrift:out:${type}`, title: type, description: EVENT_DESCRIPTION[type] },
    z.toJSONSchema(schema, { io: 'input', target: draft }),
  )
}

/** JSON Schema of what the service says of itself. */
export function statusSchema(draft: Draft = 'draft-2020-12'): JsonSchema {
  return describe(
    { id: `urn:turbidrift:out:${SERVICE_STATUS}`, title: SERVICE_STATUS, description: SERVICE_STATUS_DESCRIPTION },
    z.toJSONSchema(serviceStatusSchema, { io: 'input', target: draft }),
  )
}

/** All times in share one schema; what it refuses by code is written as far as a pattern can. */
const INSTANT: z.core.$ZodType = readingSchema.shape.time

const INSTANT_PATTERN = '^\\d{4}-\\d{2}-\\d{2}[Tt ]\\d{2}:\\d{2}(:\\d{2}(\\.\\d+)?)?([Zz]|[+-]\\d{2}:\\d{2})$'

function sayInstants({
  zodSchema,
  jsonSchema,
}: Parameters<NonNullable<z.core.ToJSONSchemaParams['override']>>[0]): void {
  if (zodSchema !== INSTANT) return
  jsonSchema.pattern = INSTANT_PATTERN
  jsonSchema.description = 'RFC 3339 time with offset; seconds may be left out. Days that do not exist are refused.'
}

function describe(
  { id, title, description }: { readonly id: string; readonly title: string; readonly description: string },
  { $schema, ...rest }: JsonSchema,
): JsonSchema {
  return { $schema, $id: id, title, description, ...rest }
}
