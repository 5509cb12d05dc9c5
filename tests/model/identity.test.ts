import { describe, expect, it } from 'vitest'
import { contentHash, eventId, plantNamespace, recommendationId } from '../../src/model/identity.js'

/** Ids are a promise to whoever stored them: these must never change. */
describe('identity', () => {
  it('is a UUID of version 5 (RFC 9562 section 5.5)', () => {
    const uuid = /^[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/
    for (const id of [plantNamespace('p'), recommendationId('p', 'CFE-A', 1), eventId('p', 'CFE-A', 'x', 0)])
      expect(id).toMatch(uuid)
  })

  it('differs by plant, target, type and counter and is the same for the same', () => {
    const ids = [
      recommendationId('p', 'CFE-A', 1),
      recommendationId('p', 'CFE-A', 2),
      recommendationId('p', 'CFE-B', 1),
      recommendationId('q', 'CFE-A', 1),
      eventId('p', 'CFE-A', 'analyzer.status', 1),
      eventId('p', 'CFE-A', 'analyzer.finding', 1),
      eventId('p', 'CFE-A', 'analyzer.status', 2),
    ]
    expect(new Set(ids).size).toBe(ids.length)
    expect(recommendationId('p', 'CFE-A', 1)).toBe(ids[0])
  })

  it('hashes text with SHA-256, first 16 digits (FIPS 180-4 example "abc")', () => {
    expect(contentHash('abc')).toBe('ba7816bf8f01cfea')
  })
})
