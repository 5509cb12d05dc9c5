import { describe, expect, it } from 'vitest'
import { decodeSparkplug, type SparkplugDecoded, type SparkplugPlan } from '../../../src/adapters/sparkplug/decode.js'
import { metricTable } from '../../../src/adapters/sparkplug/metricTable.js'
import { restoreState, type SparkplugState } from '../../../src/adapters/sparkplug/stored.js'
import { decodeMessage } from '../../../src/model/decode.js'
import type { SparkplugMetric } from '../../../src/model/sparkplugFeed.js'
import type { Unit } from '../../../src/model/units.js'
import { bdSeq, encode, float, GROUP, metric, type SentMetric, T0, topicOf } from './edgeNode.js'

const units = new Map<string, Unit>([
  ['FE1-A', 'NTU'],
  ['FE1-B', 'mNTU'],
])
const rows: SparkplugMetric[] = [
  { device: '{analyzer}', metric: 'turbidity', field: 'value' },
  { device: '{analyzer}', metric: 'flow', field: 'flowLMin' },
  { device: '{analyzer}', metric: 'quality', field: 'quality' },
  { device: '{analyzer}', metric: 'mode', field: 'state', words: { 0: 'measuring', 1: 'maintenance' } },
  { metric: 'FE1-B/turbidity', analyzer: 'FE1-B', field: 'value' },
]
const reading = { kind: 'reading', analyzer: 'FE1-A', time: new Date(T0).toISOString(), unit: 'NTU' }

describe('a feed of Sparkplug B', () => {
  it('makes readings of births, and of data by alias or by name', () => {
    const { send } = receiver()
    expect(send('NBIRTH', 0, [bdSeq(0), float('FE1-B/turbidity', 31, { alias: 9 })]).messages).toEqual([
      { ...reading, analyzer: 'FE1-B', unit: 'mNTU', value: 31 },
    ])
    const birth = send('DBIRTH', 1, [float('turbidity', 0.25, { alias: 1 }), float('flow', 0.5, { alias: 2 })], 'FE1-A')
    expect(birth.messages).toEqual([{ ...reading, value: 0.25, flowLMin: 0.5 }])
    expect(send('DDATA', 2, [float(undefined, 0.31, { alias: 1 })], 'FE1-A').messages).toEqual([
      { ...reading, value: 0.31, flowLMin: 0.5 },
    ])
    expect(send('DDATA', 3, [float('turbidity', 0.32)], 'FE1-A').messages).toEqual([
      { ...reading, value: 0.32, flowLMin: 0.5 },
    ])
    expect(send('NDATA', 4, [float(undefined, 32, { alias: 9 })]).messages).toEqual([
      { ...reading, analyzer: 'FE1-B', unit: 'mNTU', value: 32 },
    ])
  })

  it('takes the type of the birth for data that name none', () => {
    const { send } = born()
    const sent = [metric('turbidity', { type: 'Int32', value: -1, alias: 1 })]
    expect(send('DBIRTH', 2, sent, 'FE1-A').messages).toMatchObject([{ value: -1 }])
    // Field 10 with −1 as two's complement, alias 1: as data come, without a type.
    const bytes = Uint8Array.from([0x18, 3, 0x08, 0, 0x12, 8, 0x10, 1, 0x50, 0xff, 0xff, 0xff, 0xff, 0x0f])
    expect(decodedOf(receiverState(), topicOf('DDATA', 'Filters', 'FE1-A'), bytes)?.messages).toEqual([])
    const { state } = born(sent)
    expect(decodedOf(state, topicOf('DDATA', 'Filters', 'FE1-A'), with18(bytes, 2))?.messages).toMatchObject([
      { value: -1, time: '1970-01-01T00:00:00.000Z' },
    ])
  })

  it('gives what goes with a reading as it stood at the time of the reading', () => {
    const { send } = born([float('turbidity', 0.25), float('flow', 0.5), metric('mode', { type: 'UInt8', value: 0 })])
    const at = (minutes: number) => ({ timestamp: T0 + minutes * 60_000 })
    expect(
      send('DDATA', 2, [metric('mode', { type: 'UInt8', value: 1, ...at(10) }), float('flow', 0, at(10))], 'FE1-A')
        .messages,
    ).toEqual([])
    const late = { isHistorical: true }
    expect(
      send('DDATA', 3, [float('turbidity', 0.2, { ...at(5), ...late }), float('turbidity', 0.3, at(11))], 'FE1-A')
        .messages,
    ).toMatchObject([{ value: 0.2 }, { value: 0.3, state: 'maintenance', flowLMin: 0 }])
    // A late report of the flow changes nothing of what holds now.
    expect(
      send(
        'DDATA',
        4,
        [float('flow', 0.4, { ...at(6), ...late }), float('turbidity', 0.1, { ...at(7), ...late })],
        'FE1-A',
      ).messages,
    ).toMatchObject([{ value: 0.1, flowLMin: 0.4 }])
    expect(send('DDATA', 5, [float('turbidity', 0.3, at(12))], 'FE1-A').messages).toMatchObject([{ flowLMin: 0 }])
  })

  it('forgets what went with readings at a birth and at a death', () => {
    const { send } = born([float('turbidity', 0.25), float('flow', 0.5)])
    const [message] = send('DBIRTH', 2, [float('turbidity', 0.26)], 'FE1-A').messages
    expect(message).toEqual({ ...reading, value: 0.26 })
  })

  it('marks what the source says of its value', () => {
    const { send } = born()
    const quality = (value: number): Partial<SentMetric> => ({ properties: { Quality: { type: 'Int32', value } } })
    const sent = [
      float('turbidity', 0.1, quality(192)),
      float('turbidity', 0.1, quality(0)),
      float('turbidity', 0.1, quality(500)),
      metric('turbidity', { type: 'Float', value: null, isNull: true }),
      float('turbidity', Number.NaN),
    ]
    const { messages } = send('DDATA', 2, sent, 'FE1-A')
    expect(messages.map(({ value, quality: said }) => [value, said])).toEqual([
      [0.1, 'good'],
      [0.1, 'bad'],
      [0.1, 'bad'],
      [0, 'bad'],
      [0, 'bad'],
    ])
    for (const message of messages) expect(decodeMessage(message).ok).toBe(true)
  })

  it('reads quality as a code or as a word, and leaves a word that nobody knows to be refused with the reading', () => {
    const { send } = born()
    const said = (type: SentMetric['type'], value: number | string) =>
      send('DBIRTH', 2, [metric('quality', { type, value }), float('turbidity', 0.1)], 'FE1-A').messages[0]
    expect(said('Int32', 192)?.quality).toBe('good')
    expect(said('String', 'Bad')?.quality).toBe('bad')
    const unknown = said('String', 'so so')!
    expect(decodeMessage(unknown)).toMatchObject({
      ok: false,
      faults: [{ field: 'reading.quality', value: '"so so"' }],
    })
  })

  it.each<[string, SentMetric[], object]>([
    [
      'text where a number belongs',
      [metric('turbidity', { type: 'String', value: '0.1' })],
      { field: 'metric.string' },
    ],
    ['bytes', [metric('turbidity', { type: 'Bytes', value: Uint8Array.of(1) })], { field: 'metric.value' }],
    ['an alias of no birth', [float(undefined, 0.1, { alias: 77 })], { code: 'no_birth', value: '"alias 77"' }],
    ['neither name nor alias', [float(undefined, 0.1)], { code: 'missing_field', field: 'metric.name' }],
    ['a time beyond the calendar', [float('turbidity', 1, { timestamp: 9e15 })], { field: 'metric.timestamp' }],
  ])('refuses %s, and takes the rest of the packet', (_, metrics, fault) => {
    const { messages, refused } = born().send('DDATA', 2, [...metrics, float('turbidity', 0.2)], 'FE1-A')
    expect(messages).toMatchObject([{ value: 0.2 }])
    expect(refused?.faults).toMatchObject([fault])
  })

  it('refuses an analyzer that is not in the register, once for all its metrics', () => {
    const { send } = receiver()
    send('NBIRTH', 0, [bdSeq(0)])
    const { refused, messages } = send('DBIRTH', 1, [float('turbidity', 1), float('flow', 1)], 'FE9-A')
    expect(messages).toEqual([])
    expect(refused?.faults).toMatchObject([
      { code: 'unknown_analyzer', field: 'reading.analyzer', value: expect.stringContaining('2 metrics') as string },
    ])
  })

  it('passes over what nobody asked for without a word', () => {
    const { send } = born()
    const quiet = { messages: [], news: [] }
    const pump = send('DDATA', 2, [float('speed', 1), float(undefined, 1, { alias: 500 })], 'Pump')
    expect(pump).toMatchObject(quiet)
    expect(pump.refused).toBeUndefined()
    expect(send('DDATA', 3, [float('pressure', 1)], 'FE1-A')).toMatchObject(quiet)
    expect(decodedOf(receiverState(), topicOf('NCMD'), encode(undefined, []))).toMatchObject(quiet)
    expect(decodedOf(receiverState(), 'spBv1.0/Other/NDATA/Filters', encode(0, []))).toBeUndefined()
  })

  it.each<[string, string, Uint8Array, object]>([
    ['text', topicOf('NDATA'), Buffer.from('{"value":1}'), { code: 'malformed_payload' }],
    ['nothing', topicOf('NDATA'), new Uint8Array(), { code: 'missing_field', field: 'seq' }],
    ['a number beyond 255', topicOf('NDATA'), encode(256, []), { code: 'invalid_field', field: 'seq', value: '256' }],
    ['too much', topicOf('NDATA'), new Uint8Array(65_537), { code: 'too_large' }],
    ['a death without its number', topicOf('NDEATH'), encode(undefined, []), { code: 'missing_field', field: 'bdSeq' }],
    ['a device that is none', topicOf('NDATA', 'Filters', 'FE1-A'), encode(0, []), { field: 'topic' }],
    ['no device', topicOf('DDATA'), encode(0, []), { field: 'topic' }],
    ['a kind that is none', topicOf('XDATA'), encode(0, []), { field: 'topic' }],
  ])('refuses %s', (_, topic, payload, fault) => {
    const state = receiverState()
    expect(decodedOf(state, topic, payload)).toMatchObject({ messages: [], refused: { faults: [fault] } })
    expect(state.sessions.size).toBe(0)
  })
})

describe('sessions of edge nodes', () => {
  it('refuse aliases after a gap until the next birth, and go on taking names', () => {
    const { send } = born([float('turbidity', 0.25, { alias: 1 })])
    const gap = send('DDATA', 9, [float(undefined, 0.3, { alias: 1 }), float('turbidity', 0.31)], 'FE1-A')
    expect(gap.news).toEqual([{ kind: 'gap', node: 'Filters' }])
    expect(gap.messages).toMatchObject([{ value: 0.31 }])
    expect(gap.refused?.faults).toMatchObject([{ code: 'no_birth', field: 'metric.alias' }])
    expect(send('DDATA', 10, [float(undefined, 0.3, { alias: 1 })], 'FE1-A').messages).toEqual([])
    send('DBIRTH', 11, [float('turbidity', 0.25, { alias: 2 })], 'FE1-A')
    expect(send('DDATA', 12, [float(undefined, 0.4, { alias: 2 })], 'FE1-A').messages).toMatchObject([{ value: 0.4 }])
  })

  it('go from 255 to 0 without a gap', () => {
    const { send } = receiver()
    send('NBIRTH', 254, [bdSeq(0)])
    expect(send('NDATA', 255, []).news).toEqual([])
    expect(send('NDATA', 0, []).news).toEqual([])
    expect(send('NDATA', 0, []).news).toEqual([{ kind: 'gap', node: 'Filters' }])
  })

  it('end with their own death, not with one of an earlier session', () => {
    const { send } = receiver()
    send('NBIRTH', 0, [bdSeq(4)])
    expect(send('NDEATH', undefined, [bdSeq(3)]).news).toEqual([{ kind: 'stale_death', node: 'Filters' }])
    expect(send('NDATA', 1, [float('FE1-B/turbidity', 1)]).messages).toHaveLength(1)
    expect(send('NDEATH', undefined, [bdSeq(4)]).news).toEqual([{ kind: 'death', node: 'Filters' }])
    expect(send('NDEATH', undefined, [bdSeq(4)]).news).toEqual([])
    const after = send('NDATA', 2, [float('FE1-B/turbidity', 1)])
    expect(after.messages).toEqual([])
    expect(after.refused?.faults).toMatchObject([{ code: 'no_birth', field: 'metrics' }])
    expect(send('NBIRTH', 0, [bdSeq(5), float('FE1-B/turbidity', 1)]).messages).toHaveLength(1)
  })

  it('refuse a device after its death, and one never born, until its birth', () => {
    const { send } = born()
    expect(send('DDEATH', 2, [], 'FE1-A').news).toEqual([{ kind: 'death', node: 'Filters', device: 'FE1-A' }])
    expect(send('DDATA', 3, [float('turbidity', 1)], 'FE1-A').messages).toEqual([])
    expect(send('DDATA', 4, [float('turbidity', 1)], 'FE1-B').refused?.faults).toMatchObject([{ code: 'no_birth' }])
    expect(send('DBIRTH', 5, [float('turbidity', 1)], 'FE1-A').messages).toHaveLength(1)
  })

  it('know no device any more after a birth of the edge node, until its own', () => {
    const { send } = born([float('turbidity', 1, { alias: 1 })])
    send('NBIRTH', 0, [bdSeq(1)])
    expect(send('DDATA', 1, [float(undefined, 0.3, { alias: 1 })], 'FE1-A').messages).toEqual([])
    send('DDEATH', 2, [], 'FE1-A')
    send('NBIRTH', 3, [bdSeq(2)])
    // The device's birth is lost: what has a name is taken all the same.
    expect(send('DDATA', 5, [float('turbidity', 0.3)], 'FE1-A').messages).toHaveLength(1)
  })

  it('take an alias that was given twice for nobody', () => {
    const { send } = born([float('turbidity', 1, { alias: 1 }), float('flow', 1, { alias: 1 })])
    expect(send('DDATA', 2, [float(undefined, 0.3, { alias: 1 })], 'FE1-A').refused?.faults).toMatchObject([
      { code: 'no_birth', rule: expect.stringContaining('tck-id-payloads-alias-uniqueness') as string },
    ])
  })

  it('outlive a restart with what goes with readings, by the rows that were written', () => {
    const before = receiverState()
    const rows = new Map<string, string>()
    const send = (
      state: SparkplugState,
      kind: string,
      seq: number,
      metrics: readonly SentMetric[],
      device?: string,
    ) => {
      const decoded = decodedOf(state, topicOf(kind, 'Filters', device), encode(seq, metrics))!
      for (const [key, text] of decoded.rows) rows.set(key, text)
      return decoded.messages
    }
    send(before, 'NBIRTH', 0, [bdSeq(0), float('FE1-B/turbidity', 1, { alias: 0 })])
    send(before, 'DBIRTH', 1, [float('turbidity', 0.25, { alias: 1 }), float('flow', 0.5)], 'FE1-A')
    send(before, 'DBIRTH', 2, [float('turbidity', 0.25, { alias: 2 })], 'FE1-B')
    send(before, 'DDEATH', 3, [], 'FE1-B')
    const after = restoreState('gateway', units.keys(), key => rows.get(key))
    expect(after).toEqual(before)
    expect(send(after, 'DDATA', 4, [float(undefined, 0.3, { alias: 1 })], 'FE1-A')).toEqual([
      { ...reading, value: 0.3, flowLMin: 0.5 },
    ])
    expect(restoreState('another', units.keys(), key => rows.get(key))).toEqual(receiverState())
  })

  it('write nothing of what did not change', () => {
    const { send } = born([float('turbidity', 0.25), float('flow', 0.5)])
    expect([...send('DDATA', 2, [float('turbidity', 0.3)], 'FE1-A').rows.keys()]).toEqual([
      'sparkplug/gateway/session/Filters',
    ])
  })

  it('are not kept without end', () => {
    const state = receiverState()
    for (let n = 0; n < 1_000; n++) decodedOf(state, topicOf('NDATA', `N${String(n)}`), encode(0, []))
    expect(decodedOf(state, topicOf('NDATA', 'one more'), encode(0, []))?.refused?.faults).toMatchObject([
      { code: 'too_large', field: 'node' },
    ])
    expect(state.sessions.size).toBe(1_000)
  })
})

function plan(): SparkplugPlan {
  return { feed: 'gateway', group: GROUP, node: undefined, table: metricTable(rows, units) }
}

function receiverState(): SparkplugState {
  return { sessions: new Map(), held: new Map() }
}

function decodedOf(state: SparkplugState, topic: string, payload: Uint8Array): SparkplugDecoded | undefined {
  return decodeSparkplug(state, plan(), topic, payload)
}

function receiver(state = receiverState()) {
  const send = (kind: string, seq: number | undefined, metrics: readonly SentMetric[], device?: string) =>
    decodedOf(state, topicOf(kind, 'Filters', device), encode(seq, metrics))!
  return { state, send }
}

/** An edge node and its device FE1-A are born; the next number is 2. */
function born(metrics: readonly SentMetric[] = [float('turbidity', 0.25)]) {
  const { state, send } = receiver()
  send('NBIRTH', 0, [bdSeq(0)])
  send('DBIRTH', 1, metrics, 'FE1-A')
  return { state, send }
}

function with18(bytes: Uint8Array, seq: number): Uint8Array {
  return Uint8Array.from(bytes, (byte, i) => (i === 1 ? seq : byte))
}
