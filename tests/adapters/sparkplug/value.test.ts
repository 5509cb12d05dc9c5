import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { numberOf, qualityOfCode, wordOf } from '../../../src/adapters/sparkplug/value.js'
import { readPayload, type WireValue } from '../../../src/adapters/sparkplug/wire.js'
import { encode, metric } from './edgeNode.js'

// Data type codes: Sparkplug 3.0.0, chapter 6.4.16.
const [INT8, INT16, INT32, INT64, UINT8, UINT16, UINT32, UINT64, FLOAT, DOUBLE, BOOLEAN, STRING, DATETIME] = Array.from(
  { length: 13 },
  (_, i) => i + 1,
)
const int = (bits: bigint): WireValue => ({ field: 'int', bits })
const long = (bits: bigint): WireValue => ({ field: 'long', bits })

describe('numbers of Sparkplug', () => {
  it.each<[string, WireValue, number | undefined, number | undefined]>([
    ['Int8 −1 of the width of the field', int(0xffff_ffffn), INT8, -1],
    ['Int8 −1 of its own width', int(0xffn), INT8, -1],
    ['Int8 127', int(127n), INT8, 127],
    ['Int8 that is none', int(300n), INT8, undefined],
    ['Int16 −300', int(0xffff_fed4n), INT16, -300],
    ['Int32 −1', int(4_294_967_295n), INT32, -1],
    ['Int64 −1', long(0xffff_ffff_ffff_ffffn), INT64, -1],
    ['Int64 beyond a double', long(2n ** 62n), INT64, undefined],
    ['UInt8 255', int(255n), UINT8, 255],
    ['UInt8 256', int(256n), UINT8, undefined],
    ['UInt16 65535', int(65_535n), UINT16, 65_535],
    ['UInt32 4294967295', int(4_294_967_295n), UINT32, 4_294_967_295],
    ['UInt32 in the wider field', long(4_294_967_295n), UINT32, 4_294_967_295],
    ['UInt64', long(10n), UINT64, 10],
    ['an integer without a type', int(4n), undefined, 4],
    ['Float 0.31', { field: 'float', number: Math.fround(0.31) }, FLOAT, 0.31],
    ['Double', { field: 'double', number: 0.1 + 0.2 }, DOUBLE, 0.1 + 0.2],
    ['a fraction declared as Int32', { field: 'float', number: 1 }, INT32, undefined],
    ['an integer declared as Float', int(1n), FLOAT, undefined],
    ['a time', long(1n), DATETIME, undefined],
    ['a truth', { field: 'boolean', truth: true }, BOOLEAN, undefined],
    ['a text', { field: 'string', text: '1' }, STRING, undefined],
  ])('%s', (_, value, datatype, expected) => {
    expect(numberOf(value, datatype)).toBe(expected)
  })

  it('keeps what the reference encoder was given, for every integer type', () => {
    const types = [
      ['Int8', -128, 127],
      ['Int16', -32_768, 32_767],
      ['Int32', -2_147_483_648, 2_147_483_647],
      ['UInt8', 0, 255],
      ['UInt16', 0, 65_535],
      ['UInt32', 0, 4_294_967_295],
      ['UInt64', 0, Number.MAX_SAFE_INTEGER],
    ] as const
    for (const [type, least, most] of types) {
      fc.assert(
        fc.property(fc.oneof(fc.constantFrom(least, most), fc.integer({ min: least, max: most })), value => {
          const [read] = readPayload(encode(0, [metric('m', { type, value })]))!.metrics
          expect(numberOf(read!.value!, read!.datatype)).toBe(value)
        }),
        { seed: 7, numRuns: 100 },
      )
    }
  })

  it('gives a Float the shortest decimal that is the same 32 bits', () => {
    fc.assert(
      fc.property(fc.float({ noNaN: true, noDefaultInfinity: true }), float => {
        const short = numberOf({ field: 'float', number: float }, FLOAT)!
        expect(Math.fround(short) === float).toBe(true)
        expect(String(short).length).toBeLessThanOrEqual(String(float).length)
      }),
      { seed: 7 },
    )
  })
})

describe('words and quality codes of Sparkplug', () => {
  it('are text, true or false, or a whole number', () => {
    expect(wordOf({ field: 'string', text: 'Good' }, STRING)).toBe('Good')
    expect(wordOf({ field: 'boolean', truth: true }, BOOLEAN)).toBe('true')
    expect(wordOf(int(3n), UINT8)).toBe('3')
    expect(wordOf(int(3n), STRING)).toBeUndefined()
    expect(wordOf({ field: 'string', text: 'x' }, UINT8)).toBeUndefined()
  })

  it.each([
    // tck-id-payloads-propertyset-quality-value-value.
    [0, 'bad'],
    [192, 'good'],
    [500, 'bad'],
    // Common practice, no source.
    [216, 'good'],
    [64, 'uncertain'],
    [24, 'bad'],
    [128, 'bad'],
    [-1, 'bad'],
    [100_000, 'bad'],
  ])('%d is %s', (code, quality) => {
    expect(qualityOfCode(code)).toBe(quality)
  })
})
