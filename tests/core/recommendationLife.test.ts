import { validate, version } from 'uuid'
import { describe, expect, it } from 'vitest'
import { envelopeSchema, toCloudEvent } from '../../src/model/cloudEvent.js'
import { DATA_SCHEMA_BY_TYPE, type PlantEvent } from '../../src/model/events.js'
import { eventId, recommendationId } from '../../src/model/identity.js'
import { EVENT_TYPES } from '../../src/model/vocabulary.js'
import { BUSY_REGISTER, busyStream } from './support/busyStream.js'
import { CORRECTED_MS, LIFE_REGISTER, lifeStream } from './support/lifeStream.js'
import { lineOf, messagesOf, ofType, run } from './support/run.js'

const { events } = run(messagesOf(lifeStream()), { register: LIFE_REGISTER, ticks: 'event' })
const PLANT = LIFE_REGISTER.plant

type RecommendationEvent = Extract<PlantEvent, { type: `recommendation.${string}` }>

function about(target: string): RecommendationEvent[] {
  return events.filter(
    (event): event is RecommendationEvent => event.type.startsWith('recommendation.') && event.subject === target,
  )
}

function stepsOf(told: readonly RecommendationEvent[]): string[] {
  return told
    .map(event => event.type.slice('recommendation.'.length))
    .filter((step, i, all) => step !== 'revised' || all[i - 1] !== 'revised')
}

describe('life of a recommendation', () => {
  it('is opened, escalated, answered, put to proof, confirmed and closed, with one id', () => {
    const first = about('FE1-A').filter(event => event.data.recommendation === recommendationId(PLANT, 'FE1-A', 1))
    const steps = stepsOf(first)
    expect(steps[0]).toBe('opened')
    expect(steps.at(-1)).toBe('closed')
    expect(steps).toEqual(expect.arrayContaining(['escalated', 'answered', 'revised']))
    expect(first.at(-1)?.data).toMatchObject({
      phase: 'closed',
      reason: 'the zero of 8 Apr 2026, 00:00 UTC is confirmed',
    })
    const [verdict] = ofType(events, 'work.confirmed')
    expect(verdict?.data).toMatchObject({ analyzer: 'FE1-A', work: { action: 'zero', id: 'w-2' }, pairs: 4 })
    expect(verdict?.data.recommendation).toBe(recommendationId(PLANT, 'FE1-A', 1))
  })

  it('is reopened where the work did not help, under its own id', () => {
    const told = about('SW-A')
    expect(new Set(told.map(event => event.data.recommendation))).toEqual(new Set([recommendationId(PLANT, 'SW-A', 1)]))
    expect(stepsOf(told)).toEqual(['opened', 'revised', 'reopened', 'revised', 'closed'])
    expect(told.map(event => event.data.phase).filter((phase, i, all) => phase !== all[i - 1])).toEqual([
      'open',
      'awaiting_proof',
      'open',
      'awaiting_proof',
      'closed',
    ])
    expect(ofType(events, 'work.not_confirmed').map(event => event.data.work.id)).toEqual(['w-1'])
  })

  it('is not proven by a standard that belongs to another analyzer', () => {
    const [undecided] = ofType(events, 'work.undecided')
    expect(undecided?.data).toMatchObject({ analyzer: 'SW-A', work: { id: 'w-3' } })
    expect(undecided?.data.because.join(' ')).toContain('S-9')
    const suspects = ofType(events, 'reference.suspect').filter(event => event.data.reference === 'standard')
    expect(suspects.map(event => event.data.standard)).toEqual(['S-9'])
  })

  it('is withdrawn, not closed, where a correction takes its evidence away', () => {
    const second = about('FE1-A').filter(event => event.data.recommendation === recommendationId(PLANT, 'FE1-A', 2))
    const steps = stepsOf(second)
    expect(steps[0]).toBe('opened')
    expect(steps.at(-1)).toBe('withdrawn')
    expect(Date.parse(second.at(-1)?.time ?? '') - CORRECTED_MS).toBeLessThanOrEqual(17 * 60_000)
    expect(second.at(-1)?.data.reason).not.toContain('confirmed')
  })

  it('is revised and never repeated: one open at a time, revisions without a gap, no two alike', () => {
    for (const target of ['FE1-A', 'SW-A']) {
      const open = new Map<string, number>()
      for (const { type, data } of about(target)) {
        const before = open.get(data.recommendation)
        expect(type === 'recommendation.opened').toBe(before === undefined)
        expect(data.revision).toBe((before ?? 0) + 1)
        open.set(data.recommendation, data.revision)
        if (data.phase === 'closed') open.delete(data.recommendation)
        expect(open.size).toBeLessThanOrEqual(1)
      }
    }
    const bodies = events
      .filter(event => event.type.startsWith('recommendation.'))
      .map(event => JSON.stringify(event.data))
    expect(new Set(bodies).size).toBe(bodies.length)
  })

  it('says why it is said again, each time but the first', () => {
    for (const event of [...about('FE1-A'), ...about('SW-A')]) {
      expect(event.data.reason === undefined).toBe(event.type === 'recommendation.opened')
    }
  })

  it('keeps the plant time of its opening and dates what was known', () => {
    for (const target of ['FE1-A', 'SW-A']) {
      const opened = new Map<string, string>()
      for (const event of about(target)) {
        const { recommendation, openedAt, known } = event.data
        if (event.type === 'recommendation.opened') opened.set(recommendation, event.time)
        expect(openedAt).toBe(opened.get(recommendation))
        expect(known <= event.time).toBe(true)
      }
    }
  })
})

/** CloudEvents 1.0 (required attributes, RFC 3339 time), RFC 9562 section 5.5 (UUIDv5), and the service's own bounds. */
describe('every event', () => {
  const busy = run(messagesOf(busyStream(62)), { register: BUSY_REGISTER, ticks: 'event' }).events

  it('comes in every type there is', () => {
    expect(new Set(events.map(event => event.type))).toEqual(new Set(EVENT_TYPES))
  })

  it.each([
    ['life', events],
    ['busy', busy],
  ] as const)('passes its schema, with whole seconds and under 64 KiB (%s)', (_name, all) => {
    for (const event of all) {
      const envelope = toCloudEvent(event, 'turbidrift', '0.0.0')
      const faults = [...(envelopeSchema.safeParse(envelope).error?.issues ?? [])]
      faults.push(...(DATA_SCHEMA_BY_TYPE[event.type].strict().safeParse(event.data).error?.issues ?? []))
      expect(faults, `${event.type} ${event.time}`).toEqual([])
      expect(event.time).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$/)
      expect(Buffer.byteLength(lineOf(event))).toBeLessThan(65_536)
      for (const text of lineOf(event).match(/"\d{4}-\d\d-\d\dT[^"]*"/g) ?? [])
        expect(text).toMatch(/^"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ"$/)
    }
  })

  it('has an id of its own: UUIDv5 of what it is about, its type and how many came before', () => {
    expect(new Set(events.map(event => event.id)).size).toBe(events.length)
    const counters = new Map<string, number>()
    for (const event of events) {
      expect(validate(event.id) && version(event.id) === 5).toBe(true)
      const key = `${event.subject} ${event.type}`
      counters.set(key, (counters.get(key) ?? 0) + 1)
      expect(event.id).toBe(eventId(PLANT, event.subject, event.type, counters.get(key) ?? 0))
    }
  })

  it('never goes back in time, and holds a recommendation to one readable sentence', () => {
    for (const [i, event] of events.entries()) expect(event.time >= (events[i - 1]?.time ?? '')).toBe(true)
    const sentences = events.filter(event => event.type.startsWith('recommendation.')).map(event => event.data.summary)
    for (const sentence of sentences) {
      expect(sentence.length).toBeLessThanOrEqual(240)
      expect(sentence).toMatch(/^[A-Z].*\.$/)
      expect(sentence).not.toMatch(/NaN|undefined|null|Infinity/)
    }
  })

  it('is sent at once only where somebody has to act now or soon', () => {
    const atOnce = events.filter(event => event.data.notify === 'at_once')
    for (const event of atOnce) {
      const urgency = 'urgency' in event.data ? event.data.urgency : 'now'
      expect(['now', 'soon']).toContain(urgency)
    }
    expect(atOnce.length).toBeLessThan(events.length / 10)
  })
})
