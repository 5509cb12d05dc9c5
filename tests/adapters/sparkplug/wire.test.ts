import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { readPayload } from '../../../src/adapters/sparkplug/wire.js'
import { encode, float, metric, T0 } from './edgeNode.js'

describe('the payload of Sparkplug B', () => {
  it('is read from bytes written by hand', () => {
    // Field numbers: Sparkplug 3.0.0, chapter 6.4.1. Tags and lengths: protobuf's encoding guide, tag = number × 8 + type.
    const time = [0xa0, 0x88, 0xb8, 0xe2, 0xe0, 0x33] // 1778322900000, seven bits a byte, lowest first
    const bytes = [
      ...[0x08, ...time], // 1 timestamp
      ...[0x12, 0x0e], // 2 metric, 14 bytes
      ...[0x10, 0x03], // 2 alias
      ...[0x18, ...time], // 3 timestamp
      ...[0x65, 0x52, 0xb8, 0x9e, 0x3e], // 12 float 0.31: 0x3e9eb852, lowest byte first
      ...[0x18, 0x00], // 3 seq
    ]
    expect(readPayload(Uint8Array.from(bytes))).toEqual({
      timestampMs: 1_778_322_900_000,
      seq: 0,
      metrics: [
        {
          alias: 3n,
          timestampMs: 1_778_322_900_000,
          isHistorical: false,
          isNull: false,
          value: { field: 'float', number: Math.fround(0.31) },
          properties: new Map(),
        },
      ],
    })
  })

  it('tells a number that was sent as 0 from one that was not sent', () => {
    const payload = readPayload(Uint8Array.from([0x12, 0x04, 0x10, 0x00, 0x50, 0x00]))
    expect(payload).toEqual({
      metrics: [
        { alias: 0n, value: { field: 'int', bits: 0n }, isHistorical: false, isNull: false, properties: new Map() },
      ],
    })
  })

  it('is read as the reference encoder writes it', () => {
    const payload = readPayload(
      encode(255, [
        float('turbidity', 0.25, { alias: 7, properties: { Quality: { type: 'Int32', value: 192 } } }),
        metric('count', { type: 'Int32', value: -1, isHistorical: true }),
        metric('state', { type: 'String', value: 'measuring' }),
        metric('fault', { type: 'Boolean', value: false }),
        metric('total', { type: 'Double', value: null, isNull: true }),
      ]),
    )
    expect(payload?.seq).toBe(255)
    expect(payload?.timestampMs).toBe(T0)
    expect(payload?.metrics).toMatchObject([
      { name: 'turbidity', alias: 7n, datatype: 9, value: { field: 'float', number: 0.25 } },
      // Sparkplug's negative integers are two's complement in a field without sign.
      { name: 'count', datatype: 3, isHistorical: true, value: { field: 'int', bits: 4_294_967_295n } },
      { name: 'state', datatype: 12, value: { field: 'string', text: 'measuring' } },
      { name: 'fault', datatype: 11, value: { field: 'boolean', truth: false } },
      { name: 'total', datatype: 10, isNull: true },
    ])
    expect(payload?.metrics[0]?.properties).toEqual(new Map([['Quality', { field: 'int', bits: 192n }]]))
    expect(payload?.metrics[4]?.value).toBeUndefined()
  })

  it.each([['{"value":1}'], ['NaN'], ['\u00ff\u00ff\u00ff']])('refuses %j', text => {
    expect(readPayload(Buffer.from(text, 'latin1'))).toBeUndefined()
  })

  it('never throws, whatever comes', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), bytes => {
        const payload = readPayload(bytes)
        expect(payload === undefined || Array.isArray(payload.metrics)).toBe(true)
      }),
      { seed: 7, numRuns: 2_000 },
    )
  })
})
