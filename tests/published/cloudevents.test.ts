import { CloudEvent, HTTP } from 'cloudevents'
import { describe, expect, it } from 'vitest'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import { envelopeSchema, toCloudEvent } from '../../src/model/cloudEvent.js'
import { parseInstant } from '../../src/model/time.js'
import { cloudEventSamples, eventSamples } from '../report/eventSamples.js'

/** CloudEvents 1.0 (specification and JSON format); rules F1.1 to F1.10 as numbered for this project. */
const events = cloudEventSamples()
type Attributes = Record<string, unknown>

/** The community's own library refuses what breaks the specification. */
function accepted(event: object): boolean {
  try {
    return new CloudEvent(event, true).validate()
  } catch {
    return false
  }
}

describe('CloudEvents 1.0', () => {
  it.each(events.map(event => [event.type, event] as const))(
    '%s is accepted by the library, and read back the same',
    (_, event) => {
      expect(accepted(event)).toBe(true)
      const body = canonicalJson(event)
      const read = HTTP.toEvent({
        headers: { 'content-type': 'application/cloudevents+json' },
        body,
      }) as CloudEvent<unknown>
      // The library writes times with milliseconds; the instant is what counts.
      const { time, ...attributes } = read.toJSON() as Attributes
      const { time: sent, ...rest } = event
      expect(attributes).toEqual(rest)
      expect(parseInstant(String(time))).toBe(parseInstant(sent))
    },
  )

  it('F1.1: id, source, specversion and type are non-empty strings; each is required', () => {
    for (const name of ['id', 'source', 'specversion', 'type'] as const) {
      for (const event of events) {
        expect(event[name]).toMatch(/./)
        const without = Object.fromEntries(Object.entries(event).filter(([key]) => key !== name))
        expect(envelopeSchema.safeParse(without).success).toBe(false)
        expect(envelopeSchema.safeParse({ ...event, [name]: '' }).success).toBe(false)
        if (name === 'source' || name === 'type') expect(accepted({ ...event, [name]: '' })).toBe(false)
      }
    }
  })

  it('F1.2: specversion is exactly 1.0', () => {
    for (const event of events) {
      expect(event.specversion).toBe('1.0')
      expect(envelopeSchema.safeParse({ ...event, specversion: '1.0.2' }).success).toBe(false)
    }
  })

  it('F1.3: source with id is unique for distinct events, and the same for the same event', () => {
    const keys = events.map(({ source, id }) => `${source} ${id}`)
    expect(new Set(keys).size).toBe(keys.length)
    expect(cloudEventSamples().map(({ source, id }) => `${source} ${id}`)).toEqual(keys)
  })

  it('F1.4: source is a URI reference and the type carries its prefix', () => {
    for (const event of events) {
      expect(event.source).toMatch(/^[A-Za-z0-9\-._~:/?#[\]@!$&'()*+,;=%]+$/)
      expect(() => new URL(event.source, 'urn-base://plant/')).not.toThrow()
      expect(event.type).toMatch(/^turbidrift\./)
    }
    expect(toCloudEvent(eventSamples()[0]!, 'org.example.water').type).toBe('org.example.water.recommendation.opened')
  })

  it('F1.5: subject is not empty and time is RFC 3339 in UTC', () => {
    for (const event of events) {
      expect(event.subject.length).toBeGreaterThan(0)
      expect(event.time).toMatch(/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}Z$/)
      expect(parseInstant(event.time)).toBeDefined()
      expect(envelopeSchema.safeParse({ ...event, time: '2026-05-19 06:00' }).success).toBe(false)
      expect(envelopeSchema.safeParse({ ...event, subject: '' }).success).toBe(false)
    }
  })

  it('F1.6: attribute names are lower-case letters and digits, at most 20, beginning with a letter', () => {
    for (const event of events) {
      for (const name of Object.keys(event).filter(key => key !== 'data')) expect(name).toMatch(/^[a-z][a-z0-9]{0,19}$/)
    }
  })

  it('F1.7: no attribute holds a control character or a lone surrogate', () => {
    for (const event of events) {
      for (const [name, value] of Object.entries(event)) {
        if (name !== 'data') expect(value).toMatch(/^[^\p{Cc}\p{Cs}]*$/u)
      }
    }
  })

  it('F1.8: data is JSON and says so', () => {
    for (const event of events) expect(event.datacontenttype).toBe('application/json')
  })

  it('F1.10: an event with full evidence on three lines stays under 64 KiB', () => {
    for (const event of events) expect(Buffer.byteLength(canonicalJson(event))).toBeLessThan(64 * 1024)
  })
})
