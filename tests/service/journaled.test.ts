import { isDeepStrictEqual } from 'node:util'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import { journaled, journaledWhole } from '../../src/service/journaled.js'

describe('an input on its way into the journal', () => {
  it('is written and read alike by the short way and the long one, whatever it holds', () => {
    const text = fc.oneof(fc.string(), fc.string({ unit: 'binary' }))
    const leaf = fc.oneof(
      text,
      fc.double(),
      fc.integer(),
      fc.boolean(),
      fc.constantFrom(null, undefined, -0, 1e21, 5e-324),
    )
    const key = fc.oneof(
      text,
      fc.constantFrom('kind', 'time', '__proto__', 'constructor', 'toJSON', '0', '10', '2', '01', ''),
    )
    const flat = fc.array(fc.tuple(key, leaf)).map(own)
    const message = fc.oneof(flat, fc.array(fc.tuple(key, fc.oneof(leaf, flat, fc.array(leaf)))).map(own), leaf)
    const input = fc.record(
      { message, feed: text, receivedAt: text, position: text },
      { requiredKeys: ['message', 'feed'] },
    )
    fc.assert(
      fc.property(input, given => {
        const short = journaled(given)
        const long = journaledWhole(given)
        expect(short.text).toBe(long.text)
        expect(isDeepStrictEqual(short.input, long.input)).toBe(true)
        expect(JSON.stringify(short.input)).toBe(JSON.stringify(long.input))
      }),
      { seed: 20261128, numRuns: 3_000 },
    )
  })

  it('is canonical, with the members of the message in order', () => {
    const given: RecordedInput = {
      receivedAt: '2026-04-01T00:00:00Z',
      message: { value: 0.1, kind: 'reading' },
      feed: 'site',
    }
    expect(journaled(given).text).toBe(
      '{"feed":"site","message":{"kind":"reading","value":0.1},"receivedAt":"2026-04-01T00:00:00Z"}',
    )
    expect(journaled(given).text).toBe(canonicalJson(given))
  })
})

/** As JSON.parse makes it: every name, even `__proto__`, is a member of the object itself. */
function own(members: readonly (readonly [string, unknown])[]): object {
  const object = {}
  for (const [key, value] of members) {
    Object.defineProperty(object, key, { value, enumerable: true, writable: true, configurable: true })
  }
  return object
}
