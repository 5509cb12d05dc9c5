import { describe, expect, it } from 'vitest'
import { type Feed, mapPayload } from '../../src/adapters/mapping.js'
import { decodeMessage } from '../../src/model/decode.js'

const feed = (more: Partial<Feed> = {}): Feed => ({ name: 'line', type: 'mqtt', topic: 'x/{analyzer}', ...more })
const time = '2026-05-09T10:15:00Z'
const fields = { value: 'data.v', time: 'data.t', quality: 'data.q', unit: 'u' }
const payload = (data: object): object => ({ data, u: 'NTU' })

describe('mapping a payload to a message', () => {
  it('takes a payload that is a message as it is', () => {
    const message = { kind: 'reading', analyzer: 'A', time, value: 1, unit: 'NTU' }
    expect(mapPayload(feed(), {}, message)).toEqual({ ok: true, message })
  })

  it('reads paths, named levels, constants and a number alone', () => {
    const mapped = mapPayload(
      feed({ map: { fields: { value: '.' }, constants: { unit: 'FNU', time } } }),
      { analyzer: 'RW-A' },
      4.2,
    )
    expect(mapped).toEqual({
      ok: true,
      message: { kind: 'reading', analyzer: 'RW-A', time, value: 4.2, unit: 'FNU' },
    })
  })

  it('reads arrays by index and own members only', () => {
    const map = { fields: { value: 'metrics.1.v', unit: 'constructor', analyzer: '__proto__.x' } }
    const mapped = mapPayload(feed({ map }), {}, { metrics: [{ v: 1 }, { v: 2 }] })
    expect(mapped).toEqual({ ok: true, message: { kind: 'reading', value: 2 } })
  })

  it('lets the topic, which access control knows, come over the payload', () => {
    const mapped = mapPayload(feed(), { analyzer: 'RW-A' }, { analyzer: 'RW-B', value: 1 })
    expect(mapped).toMatchObject({ ok: true, message: { analyzer: 'RW-A' } })
  })

  it.each([
    // POSIX.1-2017 §4.16: seconds since the Epoch; 1778321700 is 2026-05-09T10:15:00Z (date -u -d @1778321700).
    ['epochS', 1_778_321_700, '2026-05-09T10:15:00.000Z'],
    ['epochS', 1_778_321_700.25, '2026-05-09T10:15:00.250Z'],
    ['epochMs', 1_778_321_700_250, '2026-05-09T10:15:00.250Z'],
    ['epochMs', '1778321700250', '2026-05-09T10:15:00.250Z'],
    ['rfc3339', time, time],
  ] as const)('reads %s %s', (written, came, expected) => {
    const mapped = mapPayload(feed({ map: { fields, time: written } }), { analyzer: 'A' }, payload({ v: 1, t: came }))
    expect(mapped).toMatchObject({ ok: true, message: { time: expected } })
    expect(mapped.ok && decodeMessage(mapped.message).ok).toBe(true)
  })

  it.each([
    ['text', 'soon', '"soon"'],
    ['a number no calendar holds', 1e300, '1e+300'],
    ['an infinity', Infinity, 'Infinity'],
    ['true', true, 'true'],
  ])('refuses %s as a time', (_, came, value) => {
    const mapped = mapPayload(feed({ map: { fields, time: 'epochS' } }), {}, payload({ v: 1, t: came }))
    expect(mapped).toEqual({
      ok: false,
      faults: [{ code: 'invalid_field', field: 'reading.time', value, rule: 'must be a number of seconds since 1970' }],
    })
  })

  const qualities = { '192': 'good', '64': 'uncertain', '0': 'bad', Störung: 'bad' } as const
  it.each([
    [
      { v: 1, q: 192 },
      { value: 1, quality: 'good' },
    ],
    [
      { v: 1, q: '64' },
      { value: 1, quality: 'uncertain' },
    ],
    [
      { v: 1, q: 'Bad' },
      { value: 1, quality: 'bad' },
    ],
    [{ v: 'Bad' }, { value: 0, quality: 'bad' }],
    [{ v: 'Störung' }, { value: 0, quality: 'bad' }],
    [{ v: ' 0.031 ' }, { value: 0.031 }],
    [{ v: '1e-2' }, { value: 0.01 }],
  ])('reads %j as %j', (data, expected) => {
    const mapped = mapPayload(feed({ map: { fields, qualities } }), {}, payload({ ...data, t: time }))
    expect(mapped).toMatchObject({ ok: true, message: expected })
  })

  it.each([
    [{ v: 1, q: 7 }, 'reading.quality', '7', "must be one of the feed's qualities"],
    [{ v: 1, q: { a: 1 } }, 'reading.quality', '{"a":1}', "must be one of the feed's qualities"],
    [{ v: 'full' }, 'reading.value', '"full"', 'must be a number, or a word for bad quality'],
    [{ v: '0x10' }, 'reading.value', '"0x10"', 'must be a number, or a word for bad quality'],
    [{ v: '' }, 'reading.value', '""', 'must be a number, or a word for bad quality'],
    [{ v: 'Good' }, 'reading.value', '"Good"', 'must be a number, or a word for bad quality'],
  ])('refuses %j', (data, field, value, rule) => {
    const mapped = mapPayload(feed({ map: { fields, qualities } }), {}, payload({ ...data, t: time }))
    expect(mapped).toMatchObject({ ok: false, faults: [{ field, value }] })
    expect(!mapped.ok && mapped.faults[0]!.rule).toContain(rule)
  })

  it.each(['work', 'response', 'grab', 'tick', 'register', 'rejected'])(
    'gives a readings feed no leave for %s',
    kind => {
      expect(mapPayload(feed(), {}, { kind })).toMatchObject({ ok: false, faults: [{ code: 'kind_not_allowed' }] })
    },
  )

  it('never lets a feed carry ticks, whatever else it may carry', () => {
    const commands = feed({ kinds: ['work', 'response'] })
    expect(mapPayload(commands, {}, { kind: 'work' })).toMatchObject({ ok: true })
    expect(mapPayload(commands, {}, { kind: 'tick' })).toMatchObject({ ok: false })
  })

  it('leaves a word that is no kind to the decoder', () => {
    const mapped = mapPayload(feed(), {}, { kind: 'redaing' })
    expect(mapped.ok && decodeMessage(mapped.message)).toMatchObject({ faults: [{ code: 'unknown_kind' }] })
  })

  it.each([[[1]], ['text'], [4.2], [null], [true]])('refuses %j without a map', came => {
    expect(mapPayload(feed(), {}, came)).toMatchObject({ ok: false, faults: [{ code: 'not_an_object' }] })
  })

  it('leaves Object.prototype alone', () => {
    const hostile = JSON.parse('{"__proto__":{"polluted":1},"kind":"reading"}') as unknown
    mapPayload(feed(), {}, hostile)
    mapPayload(feed({ map: { fields: { ['__proto__']: '.' } } }), {}, hostile)
    expect(({} as Record<string, unknown>).polluted).toBeUndefined()
  })
})
