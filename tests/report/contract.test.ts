import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js'
import formats from 'ajv-formats'
import { describe, expect, it } from 'vitest'
import { decodeMessage } from '../../src/model/decode.js'
import { DATA_SCHEMA_BY_TYPE } from '../../src/model/events.js'
import { KINDS } from '../../src/model/messages.js'
import { EVENT_TYPES } from '../../src/model/vocabulary.js'
import { contractDocuments } from '../../src/report/contract.js'
import { cloudEventSamples, eventSamples } from './eventSamples.js'

const TIME = '2026-05-09T10:15:00Z'
const HASH = '8f3a2b91c0de4471'
const ID = '5b0c3a52-7d1e-5c55-9a57-0f2f5c1f6a10'
const documents = new Map(contractDocuments().map(({ path, text }) => [path, text]))

function validatorOf(path: string): ValidateFunction {
  const ajv = new Ajv2020({ strict: true, allErrors: true, allowUnionTypes: true })
  formats.default(ajv)
  return ajv.compile(JSON.parse(documents.get(path)!) as object)
}

const GOOD: readonly object[] = [
  { kind: 'reading', analyzer: 'FE3-B', time: TIME, value: 0.061, unit: 'NTU' },
  {
    kind: 'reading',
    analyzer: 'FE3-B',
    time: '2026-05-09T11:15+01:00',
    value: -2,
    unit: 'mFNU',
    seq: 0,
    extra: 'kept out',
  },
  { kind: 'grab', point: 'CFE', sampled: TIME, value: 0.07, unit: 'NTU', sampleId: 'L-1', replicates: 2 },
  { kind: 'grab', point: 'CFE', sampled: TIME, value: '<0.02', unit: 'NTU' },
  {
    kind: 'work',
    analyzer: 'FE3-B',
    time: TIME,
    action: 'span',
    reference: { type: 'secondary_standard', id: 'D-1001', assigned: 34.2, expires: '2026-12-01' },
    asFound: 33.1,
    asLeft: 34.2,
    accepted: true,
  },
  { kind: 'response', recommendation: ID, time: TIME, decision: 'acknowledged', by: 'shift B' },
  { kind: 'process', point: 'FE3', time: TIME, state: 'backwash' },
  { kind: 'laboratory_check', laboratoryInstrument: 'LAB-1', time: TIME, reference: 1, asFound: 1.02 },
  { kind: 'register', hash: HASH, changed: ['points.CFE'], body: { plant: 'hollin-weir' } },
  { kind: 'tick', time: TIME, feedsDown: ['plc'] },
]

/** Each breaks one rule that a schema can hold. */
const BAD: readonly object[] = [
  { kind: 'reading', analyzer: 'FE3-B', time: TIME, unit: 'NTU' },
  { kind: 'reading', analyzer: 'FE3-B', time: TIME, value: '0.061', unit: 'NTU' },
  { kind: 'reading', analyzer: 'FE3-B', time: TIME, value: 0.061, unit: 'ntu' },
  { kind: 'reading', analyzer: '3FE', time: TIME, value: 0.061, unit: 'NTU' },
  { kind: 'reading', analyzer: 'FE3-B', time: '2026-05-09T10:15:00', value: 0.061, unit: 'NTU' },
  { kind: 'grab', point: 'CFE', sampled: '9 May 2026', value: 0.07, unit: 'NTU' },
  { kind: 'grab', point: 'CFE', sampled: TIME, value: 'about 0.07', unit: 'NTU' },
  { kind: 'grab', point: 'CFE', sampled: TIME, value: 0.07, unit: 'NTU', replicates: 0 },
  { kind: 'work', analyzer: 'FE3-B', time: TIME, action: 'kicked' },
  { kind: 'work', analyzer: 'FE3-B', time: TIME, action: 'span', reference: { type: 'secondary_standard' } },
  { kind: 'response', recommendation: 'FE3-B', time: TIME, decision: 'acknowledged' },
  { kind: 'process', point: 'FE3', time: TIME, state: 'resting' },
  { kind: 'laboratory_check', laboratoryInstrument: 'LAB-1', time: TIME, reference: -1, asFound: 1 },
  { kind: 'register', hash: 'not a hash', changed: [], body: {} },
  { kind: 'tick' },
]

const kindOf = (message: object) => (message as { kind: string }).kind

describe('schemas of messages in', () => {
  it.each(GOOD.map(message => [kindOf(message), message] as const))(
    'take a good %s, as the service does',
    (kind, message) => {
      const validate = validatorOf(`schemas/in/${kind}.json`)
      expect(validate(message), JSON.stringify(validate.errors)).toBe(true)
      expect(decodeMessage(message).ok).toBe(true)
    },
  )

  it.each(BAD.map(message => [kindOf(message), message] as const))(
    'refuse a bad %s, as the service does',
    (kind, message) => {
      expect(validatorOf(`schemas/in/${kind}.json`)(message)).toBe(false)
      expect(decodeMessage(message).ok).toBe(false)
    },
  )

  it('are all tried here', () => {
    expect(new Set(GOOD.map(kindOf))).toEqual(new Set(KINDS))
    expect(new Set(BAD.map(kindOf))).toEqual(new Set(KINDS))
  })
})

describe('schemas of events out', () => {
  it.each(cloudEventSamples().map(event => [event.type, event] as const))('take a %s', (type, event) => {
    const validate = validatorOf(`schemas/out/${type.replace(/^turbidrift\./, '')}.json`)
    expect(validate(event), JSON.stringify(validate.errors)).toBe(true)
  })

  it.each(cloudEventSamples().map(event => [event.type, event] as const))('refuse a broken %s', (type, event) => {
    const validate = validatorOf(`schemas/out/${type.replace(/^turbidrift\./, '')}.json`)
    const { summary: _summary, ...data } = event.data
    for (const broken of [
      { ...event, data },
      { ...event, type: 'turbidrift.other' },
      { ...event, specversion: '0.3' },
      { ...event, time: '2026-05-19T06:00:00+01:00' },
      { ...event, id: '' },
      { ...event, data: { ...event.data, notify: 'whenever' } },
    ]) {
      expect(validate(broken)).toBe(false)
    }
  })

  it('are fed by samples that the service itself would send', () => {
    for (const { type, data } of eventSamples()) expect(DATA_SCHEMA_BY_TYPE[type].parse(data)).toEqual(data)
  })

  it('carry the configured prefix', () => {
    const opened = contractDocuments('org.example.water').find(({ path }) =>
      path.endsWith('recommendation.opened.json'),
    )
    expect(opened?.text).toContain('"const": "org.example.water.recommendation.opened"')
  })
})

describe('contractDocuments', () => {
  it('has one schema for each message and event, and the same text each time', () => {
    expect([...documents.keys()]).toEqual([
      ...KINDS.map(kind => `schemas/in/${kind}.json`),
      ...EVENT_TYPES.map(type => `schemas/out/${type}.json`),
      'schemas/out/service.status.json',
      'asyncapi.json',
    ])
    expect(contractDocuments()).toEqual(contractDocuments())
  })
})
