import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import { decodeBySchema, decodeMessage } from '../../src/model/decode.js'
import { decodeReading } from '../../src/model/decodeReading.js'

/** Every value a field may meet: good ones often enough that whole readings are good, and whatever JSON can hold. */
const field = <T>(good: fc.Arbitrary<T>) =>
  fc.oneof(
    { arbitrary: good, weight: 40 },
    {
      arbitrary: fc.constantFrom<unknown>(
        '',
        '0.1',
        'toString',
        null,
        true,
        [],
        {},
        NaN,
        Infinity,
        -0,
        1e300,
        undefined,
      ),
      weight: 1,
    },
    { arbitrary: fc.jsonValue(), weight: 1 },
  )

const times = ['2026-05-09T10:15:00Z', '2026-05-09t10:15:00.5+01:00', '2026-05-09 10:15z', '2026-02-30T00:00:00Z']
const wire = fc.record(
  {
    kind: fc.constant('reading'),
    analyzer: field(fc.constantFrom('CFE-A', 'x', 'A.b_c-9', 'constructor', '__proto__', '7A', 'a'.repeat(65))),
    time: field(fc.constantFrom(...times)),
    value: field(fc.oneof(fc.double({ noNaN: true, min: -1, max: 4_000 }), fc.constantFrom(1e6, -1e6, 1e6 + 1))),
    unit: field(fc.constantFrom('NTU', 'mNTU', 'FNU', 'mFNU', 'FAU')),
    state: field(fc.constantFrom('measuring', 'maintenance', 'calibrating', 'fault')),
    quality: field(fc.constantFrom('good', 'uncertain', 'bad')),
    flowLMin: field(fc.double({ noNaN: true, min: 0, max: 1_000 })),
    lightSourcePct: field(fc.double({ noNaN: true, min: 0, max: 100 })),
    temperatureC: field(fc.double({ noNaN: true, min: -50, max: 150 })),
    seq: field(fc.nat()),
    extra: fc.anything(),
    hasOwnProperty: fc.anything(),
    toString: fc.constant(1),
  },
  { requiredKeys: ['kind', 'analyzer', 'time', 'value', 'unit'] },
)

/** Members that are undefined do not exist in JSON, so they count as left out. */
const written = (value: unknown) =>
  JSON.stringify(value, (_, member: unknown) =>
    typeof member === 'number' && !Number.isFinite(member) ? String(member) : member,
  )

/** As JSON.parse makes it: a member of its own, not the prototype. */
const withProto = fc.tuple(wire, fc.boolean(), fc.jsonValue()).map(([value, has, proto]) => {
  if (has) Object.defineProperty(value, '__proto__', { value: proto, enumerable: true, configurable: true })
  return value
})

describe('the short way of decoding a reading', () => {
  it('answers as the schema does, good or bad', () => {
    let short = 0
    let refused = 0
    fc.assert(
      fc.property(withProto, value => {
        const bySchema = decodeBySchema('reading', value)
        const byHand = decodeReading(value)
        if (byHand !== undefined) {
          short += 1
          expect(bySchema.ok).toBe(true)
          if (!bySchema.ok || !byHand.ok) return
          expect(canonicalJson(byHand.message)).toBe(canonicalJson(bySchema.message))
          expect(byHand.ignored).toEqual(bySchema.ignored)
        } else {
          refused += 1
          expect(bySchema.ok).toBe(false)
        }
        expect(written(decodeMessage(value))).toBe(written(byHand ?? bySchema))
      }),
      { seed: 20_260_509, numRuns: 4_000 },
    )
    // Both ways are walked often, else the property says little.
    expect(short).toBeGreaterThan(400)
    expect(refused).toBeGreaterThan(400)
  })

  it('is not fooled by members that are inherited', () => {
    const inherited = Object.create({ value: 1, unit: 'NTU' }) as Record<string, unknown>
    Object.assign(inherited, { kind: 'reading', analyzer: 'A', time: '2026-05-09T10:15:00Z' })
    const copied = JSON.parse(JSON.stringify(inherited)) as object
    expect(decodeMessage(copied).ok).toBe(false)
  })

  it('does not let a member named __proto__ reach the prototype', () => {
    const text =
      '{"kind":"reading","analyzer":"A","time":"2026-05-09T10:15:00Z","value":1,"unit":"NTU","__proto__":{"state":"fault"}}'
    const result = decodeMessage(JSON.parse(text))
    expect(result).toMatchObject({ ok: true, ignored: ['__proto__'] })
    if (!result.ok) return
    expect(Object.getPrototypeOf(result.message)).toBe(Object.prototype)
    expect((result.message as { state?: unknown }).state).toBeUndefined()
  })
})
