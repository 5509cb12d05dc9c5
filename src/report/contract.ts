import { asyncApiDocument } from './contract/asyncApi.js'
import { SERVICE_STATUS } from './contract/descriptions.js'
import { eventSchema, messageSchema, statusSchema } from './contract/jsonSchemas.js'
import { EVENT_TYPES } from '../model/vocabulary.js'
import { KINDS } from '../model/messages.js'

export interface ContractDocument {
  /** Relative, with forward slashes. */
  readonly path: string
  readonly text: string
}

/**
 * What other programs need to talk with the service, made from the schemas it checks with: a JSON Schema (2020-12) for
 * each message in, each event out and the service's own status, and an AsyncAPI 3.0.0 document over all of them.
 * @param prefix of event types, as configured
 */
export function contractDocuments(prefix = 'turbidrift'): readonly ContractDocument[] {
  return [
    ...KINDS.map(kind => document(`schemas/in/${kind}.json`, messageSchema(kind))),
    ...EVENT_TYPES.map(type => document(`schemas/out/${type}.json`, eventSchema(type, prefix))),
    document(`schemas/out/${SERVICE_STATUS}.json`, statusSchema()),
    document('asyncapi.json', asyncApiDocument(prefix)),
  ]
}

function document(path: string, content: object): ContractDocument {
  return { path, text: `${JSON.stringify(content, null, 2)}\n` }
}
