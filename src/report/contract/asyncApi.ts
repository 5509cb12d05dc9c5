import { FEED_KINDS, KINDS } from '../../model/messages.js'
import { EVENT_TYPES } from '../../model/vocabulary.js'
import { DEFERENCE_TEXT } from '../words.js'
import { EVENT_DESCRIPTION, KIND_DESCRIPTION, SERVICE_STATUS, SERVICE_STATUS_DESCRIPTION } from './descriptions.js'
import { eventSchema, type JsonSchema, messageSchema, statusSchema } from './jsonSchemas.js'

/** Version of the messages, not of the program: changes when a consumer would have to. */
const CONTRACT_VERSION = '1.0.0'

const RECORDED_KINDS = KINDS.filter(kind => !(FEED_KINDS as readonly string[]).includes(kind))

/** AsyncAPI 3.0.0: what the service receives and sends. Addresses are configured, so they are null here. */
export function asyncApiDocument(prefix: string): JsonSchema {
  return {
    asyncapi: '3.0.0',
    info: {
      title: 'turbidrift',
      version: CONTRACT_VERSION,
      description: `Tells when an on-line turbidity analyzer needs cleaning or calibration. ${DEFERENCE_TEXT}`,
    },
    defaultContentType: 'application/json',
    channels: {
      feeds: channel('Messages of the plant. Topics and fields are mapped in the register.', FEED_KINDS),
      recordings: channel('What the service adds to the messages it records.', RECORDED_KINDS),
      events: channel('CloudEvents 1.0 in structured JSON. Topic or address is configured per sink.', EVENT_TYPES),
      serviceStatus: channel(
        'Retained on brokers that events are published to, as turbidrift/PLANT/service; the last will of the service.',
        [SERVICE_STATUS],
      ),
    },
    operations: {
      receiveFromFeeds: { action: 'receive', channel: { $ref: '#/channels/feeds' } },
      receiveFromRecordings: { action: 'receive', channel: { $ref: '#/channels/recordings' } },
      sendEvents: { action: 'send', channel: { $ref: '#/channels/events' } },
      sendServiceStatus: { action: 'send', channel: { $ref: '#/channels/serviceStatus' } },
    },
    components: {
      messages: Object.fromEntries([
        ...KINDS.map(kind => [kind, message(kind, KIND_DESCRIPTION[kind], 'application/json')]),
        ...EVENT_TYPES.map(type => [type, message(type, EVENT_DESCRIPTION[type], 'application/cloudevents+json')]),
        [SERVICE_STATUS, message(SERVICE_STATUS, SERVICE_STATUS_DESCRIPTION, 'application/json')],
      ]) as JsonSchema,
      schemas: Object.fromEntries([
        ...KINDS.map(kind => [kind, inside(messageSchema(kind, 'draft-7'))]),
        ...EVENT_TYPES.map(type => [type, inside(eventSchema(type, prefix, 'draft-7'))]),
        [SERVICE_STATUS, inside(statusSchema('draft-7'))],
      ]) as JsonSchema,
    },
  }
}

function channel(description: string, names: readonly string[]): JsonSchema {
  return {
    address: null,
    description,
    messages: Object.fromEntries(names.map(name => [name, { $ref: `#/components/messages/${name}` }])),
  }
}

function message(name: string, summary: string, contentType: string): JsonSchema {
  return { name, summary, contentType, payload: { $ref: `#/components/schemas/${name}` } }
}

/** Within the document the references count from its root, so a schema has neither a draft nor a name of its own. */
function inside({ $schema: _draft, $id: _id, ...schema }: JsonSchema): JsonSchema {
  return schema
}
