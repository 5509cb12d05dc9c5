import { Ajv } from 'ajv'
import formats from 'ajv-formats'
import specs from '@asyncapi/specs'
import { describe, expect, it } from 'vitest'
import { FEED_KINDS, KINDS } from '../../src/model/messages.js'
import { EVENT_TYPES } from '../../src/model/vocabulary.js'
import { contractDocuments } from '../../src/report/contract.js'
import { cloudEventSamples } from '../report/eventSamples.js'

interface Document {
  asyncapi: string
  channels: Record<string, { messages: Record<string, { $ref: string }> }>
  operations: Record<string, { action: string; channel: { $ref: string } }>
  components: { messages: Record<string, { payload: { $ref: string } }>; schemas: Record<string, object> }
}

const document = JSON.parse(contractDocuments().find(({ path }) => path === 'asyncapi.json')!.text) as Document

/** The schema of AsyncAPI 3.0.0 as the AsyncAPI initiative publishes it (package @asyncapi/specs). */
function publishedSchema() {
  const ajv = new Ajv({ strict: false, allErrors: true })
  formats.default(ajv)
  return ajv.compile(specs.schemasWithoutId['3.0.0'] as object)
}

function resolve(reference: string): unknown {
  return reference
    .replace(/^#\//, '')
    .split('/')
    .reduce<unknown>((at, part) => (at as Record<string, unknown> | undefined)?.[part], document)
}

describe('AsyncAPI document', () => {
  it('is valid by the published schema of 3.0.0', () => {
    const validate = publishedSchema()
    expect(validate(document), JSON.stringify(validate.errors?.slice(0, 5))).toBe(true)
    expect(document.asyncapi).toBe('3.0.0')
  })

  it('is refused by the published schema when broken, so the check can fail', () => {
    const validate = publishedSchema()
    expect(
      validate({ ...document, operations: { x: { action: 'shout', channel: { $ref: '#/channels/feeds' } } } }),
    ).toBe(false)
    expect(validate({ ...document, info: {} })).toBe(false)
  })

  it('points only to what it holds', () => {
    const references = [...JSON.stringify(document).matchAll(/"\$ref":"([^"]*)"/g)].map(([, reference]) => reference!)
    expect(references.length).toBeGreaterThan(2 * EVENT_TYPES.length)
    for (const reference of references) expect(resolve(reference), reference).toBeDefined()
  })

  it('receives messages and sends events (in 3.x: send = this program sends)', () => {
    expect(document.operations.sendEvents).toEqual({ action: 'send', channel: { $ref: '#/channels/events' } })
    expect(document.operations.receiveFromFeeds?.action).toBe('receive')
    expect(Object.keys(document.channels.events!.messages)).toEqual([...EVENT_TYPES])
    expect(Object.keys(document.channels.feeds!.messages)).toEqual([...FEED_KINDS])
    expect(Object.keys(document.components.messages)).toEqual([...KINDS, ...EVENT_TYPES, 'service.status'])
    expect(document.operations.sendServiceStatus?.action).toBe('send')
  })

  it('has draft 7 payloads that take real events', () => {
    for (const event of cloudEventSamples()) {
      const ajv = new Ajv({ strict: true, allErrors: true, allowUnionTypes: true })
      formats.default(ajv)
      const validate = ajv.compile(document.components.schemas[event.type.replace(/^turbidrift\./, '')]!)
      expect(validate(event), JSON.stringify(validate.errors)).toBe(true)
      expect(validate({ ...event, data: {} })).toBe(false)
    }
  })
})
