import { describe, expect, it } from 'vitest'
import { decodeMessage } from '../../src/model/decode.js'
import { KINDS } from '../../src/model/messages.js'

const TIME = '2026-05-09T10:15:00Z'
const AT_MS = Date.UTC(2026, 4, 9, 10, 15)

const GOOD: Readonly<Record<(typeof KINDS)[number], Readonly<Record<string, unknown>>>> = {
  reading: { kind: 'reading', analyzer: 'CFE-A', time: TIME, value: 0.031, unit: 'NTU' },
  grab: { kind: 'grab', point: 'CFE', sampled: TIME, value: 0.03, unit: 'NTU' },
  work: { kind: 'work', analyzer: 'CFE-A', time: TIME, action: 'cleaned' },
  response: {
    kind: 'response',
    recommendation: '0c5c5a6e-58b1-4f0e-9f0e-6f6a3f1d7b52',
    time: TIME,
    decision: 'acknowledged',
  },
  process: { kind: 'process', point: 'CFE', time: TIME, state: 'backwash' },
  laboratory_check: {
    kind: 'laboratory_check',
    laboratoryInstrument: 'LAB-1',
    time: TIME,
    reference: 0.5,
    asFound: 0.52,
  },
  register: { kind: 'register', hash: '0123456789abcdef', changed: ['points.CFE'], body: { plant: 'p' } },
  tick: { kind: 'tick', time: TIME },
}

function decodedWith(kind: keyof typeof GOOD, change: Readonly<Record<string, unknown>>) {
  return decodeMessage({ ...GOOD[kind], ...change })
}

describe('decodeMessage', () => {
  it.each(KINDS)('takes a good %s and turns its time into an instant', kind => {
    const result = decodeMessage(GOOD[kind])
    expect(result).toMatchObject({ ok: true, ignored: [] })
    if (!result.ok || kind === 'register') return
    expect(result.message).toHaveProperty(kind === 'grab' ? 'sampledMs' : 'atMs', AT_MS)
    expect(result.message).not.toHaveProperty('time')
  })

  it.each(KINDS)('counts what nobody asked for in a %s and keeps it out', kind => {
    const result = decodedWith(kind, { colour: 'green', remark: 1 })
    expect(result).toMatchObject({ ok: true, ignored: ['colour', 'remark'] })
    expect(result.ok && result.message).not.toHaveProperty('colour')
  })

  it.each([
    [null, 'null'],
    [[], '[]'],
    ['reading', '"reading"'],
    [7, '7'],
    [undefined, 'nothing'],
  ])('refuses %j, which is no object', (value, shown) => {
    expect(decodeMessage(value)).toEqual({
      ok: false,
      faults: [{ code: 'not_an_object', field: '', value: shown, rule: 'must be one JSON object' }],
    })
  })

  it.each([[{}], [{ kind: 'Reading' }], [{ kind: 3 }], [{ kind: 'rejected' }], [Object.create({ kind: 'tick' })]])(
    'refuses %j, whose kind is unknown',
    value => {
      expect(decodeMessage(value)).toMatchObject({ ok: false, faults: [{ code: 'unknown_kind', field: 'kind' }] })
    },
  )

  const refused: readonly [keyof typeof GOOD, string, unknown][] = [
    ['reading', 'analyzer', '1A'],
    ['reading', 'analyzer', 'constructor'],
    ['reading', 'time', '2026-05-09 10:15'],
    ['reading', 'value', '0.03'],
    ['reading', 'value', null],
    ['reading', 'value', 1e7],
    ['reading', 'unit', 'ntu'],
    ['reading', 'state', 'broken'],
    ['reading', 'quality', 'ok'],
    ['reading', 'flowLMin', -1],
    ['reading', 'lightSourcePct', 1e6],
    ['reading', 'temperatureC', 200],
    ['reading', 'seq', 1.5],
    ['grab', 'point', ''],
    ['grab', 'sampled', '2026-02-30T10:00:00Z'],
    ['grab', 'value', 'about 3'],
    ['grab', 'value', -2],
    ['grab', 'unit', 'JTU'],
    ['grab', 'qualifier', '<='],
    ['grab', 'sampleId', ''],
    ['grab', 'corrects', 'x'.repeat(65)],
    ['grab', 'replicates', 0],
    ['grab', 'analysed', 'yesterday'],
    ['grab', 'reported', '10:15'],
    ['grab', 'method', ''],
    ['grab', 'standardUncertainty', -0.1],
    ['grab', 'laboratoryInstrument', 'a b'],
    ['work', 'analyzer', ''],
    ['work', 'time', 5],
    ['work', 'action', 'polished'],
    ['work', 'reference', { type: 'tap_water', assigned: 1 }],
    ['work', 'asFound', '0.1'],
    ['work', 'asFoundClean', 1e9],
    ['work', 'asLeft', true],
    ['work', 'besideBefore', {}],
    ['work', 'besideAfter', []],
    ['work', 'displayed', '0'],
    ['work', 'serial', ''],
    ['work', 'accepted', 'yes'],
    ['work', 'note', 'x'.repeat(2_001)],
    ['response', 'recommendation', '42'],
    ['response', 'decision', 'maybe'],
    ['process', 'state', 'running'],
    ['process', 'flowM3h', -5],
    ['laboratory_check', 'laboratoryInstrument', '9'],
    ['laboratory_check', 'reference', -1],
    ['laboratory_check', 'asFound', 'x'],
    ['register', 'hash', 'ABC'],
    ['register', 'changed', 'all'],
    ['register', 'body', 1],
    ['tick', 'time', ''],
    ['tick', 'feedsDown', ['ok', '!']],
  ]
  it.each(refused)('names the field of a bad %s.%s (%j)', (kind, field, value) => {
    const result = decodedWith(kind, { [field]: value })
    expect(result.ok).toBe(false)
    if (result.ok) return
    expect(result.faults).toHaveLength(1)
    const [fault] = result.faults
    expect(fault?.field.startsWith(`${kind}.${field}`)).toBe(true)
    expect(fault?.code).toBe('invalid_field')
    expect(fault?.rule).not.toBe('')
  })

  it('names every missing field at once', () => {
    const result = decodeMessage({ kind: 'work' })
    expect(result.ok ? [] : result.faults.map(({ code, field, value }) => [code, field, value])).toEqual([
      ['missing_field', 'work.analyzer', 'nothing'],
      ['missing_field', 'work.time', 'nothing'],
      ['missing_field', 'work.action', 'nothing'],
    ])
  })

  it('points into a nested field', () => {
    const result = decodedWith('work', { reference: { type: 'zero_water', assigned: 'low', expires: '2026-02-30' } })
    expect(result.ok ? [] : result.faults.map(fault => fault.field)).toEqual([
      'work.reference.expires',
      'work.reference.assigned',
    ])
  })
})

describe('a grab below or above what the laboratory can report', () => {
  it.each([
    ['<0.02', '<', 0.02],
    [' < 0.02 ', '<', 0.02],
    ['>4000', '>', 4000],
    ['<5', '<', 5],
  ])('%j is read as its bound', (value, qualifier, bound) => {
    expect(decodedWith('grab', { value })).toMatchObject({ ok: true, message: { qualifier, value: bound } })
  })

  it('keeps the second instant of a time that came twice, and refuses one that cannot be it', () => {
    const [sampled, sampledAlso] = ['2026-10-25T00:30:00Z', '2026-10-25T01:30:00Z']
    expect(decodedWith('grab', { sampled, sampledAlso })).toMatchObject({
      ok: true,
      message: { sampledMs: Date.parse(sampled), sampledAlsoMs: Date.parse(sampledAlso) },
    })
    for (const refused of [sampled, '2026-10-25T00:29:00Z', '2026-10-25T02:30:01Z'])
      expect(decodedWith('grab', { sampled, sampledAlso: refused })).toMatchObject({
        ok: false,
        faults: [{ field: 'grab.sampledAlso', rule: 'must be later than sampled, by two hours at most' }],
      })
  })

  it('keeps a qualifier given apart', () => {
    expect(decodedWith('grab', { value: 0.02, qualifier: '<' })).toMatchObject({
      ok: true,
      message: { qualifier: '<', value: 0.02 },
    })
  })

  it('refuses a qualifier that the value contradicts', () => {
    expect(decodedWith('grab', { value: '<0.02', qualifier: '<' }).ok).toBe(true)
    expect(decodedWith('grab', { value: '<0.02', qualifier: '>' })).toMatchObject({
      ok: false,
      faults: [{ field: 'grab.qualifier' }],
    })
  })

  it.each(['0.02', '<', '<-1', '<0,02', '=<1', '< 1e3', '<<1', '0.02 <'])('%j is refused', value => {
    expect(decodedWith('grab', { value }).ok).toBe(false)
  })

  it('takes a result slightly below zero as the laboratory gave it', () => {
    expect(decodedWith('grab', { value: -0.004 })).toMatchObject({ ok: true, message: { value: -0.004 } })
  })
})

describe('a deferral', () => {
  const deferred = { decision: 'deferred', until: '2026-05-20T06:00:00Z', reason: 'filter off line until then' }

  it('is taken with a date and a reason', () => {
    expect(decodedWith('response', deferred)).toMatchObject({
      ok: true,
      message: { untilMs: Date.UTC(2026, 4, 20, 6), reason: deferred.reason },
    })
  })

  it.each([
    [{ until: undefined }, ['response.until']],
    [{ reason: undefined }, ['response.reason']],
    [{ until: undefined, reason: undefined }, ['response.until', 'response.reason']],
    [{ until: TIME }, ['response.until']],
    [{ until: '2026-05-01T00:00:00Z' }, ['response.until']],
    [{ until: '2026-06-08T10:15:01Z' }, ['response.until']],
  ])('%j is refused', (change, fields) => {
    const result = decodedWith('response', { ...deferred, ...change })
    expect(result.ok ? [] : result.faults.map(fault => fault.field)).toEqual(fields)
  })

  it('may last thirty days to the second', () => {
    expect(decodedWith('response', { ...deferred, until: '2026-06-08T10:15:00Z' }).ok).toBe(true)
  })
})
