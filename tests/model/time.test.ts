import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { formatInstant, parseAnyInstant, parseInstant, sayDay, sayInstant } from '../../src/model/time.js'

const AT_MS = Date.UTC(2026, 4, 9, 10, 15)

describe('parseInstant, RFC 3339 section 5.6', () => {
  it.each([
    ['2026-05-09T10:15:00Z', AT_MS],
    ['2026-05-09T11:15:00+01:00', AT_MS],
    ['2026-05-09T05:45:00-04:30', AT_MS],
    ['2026-05-10T00:15:00+14:00', AT_MS],
    ['2026-05-09T10:15:00-00:00', AT_MS],
    ['2026-05-09t10:15:00z', AT_MS],
    ['2026-05-09 10:15:00Z', AT_MS],
    ['2026-05-09T10:15Z', AT_MS],
    ['2026-05-09T10:15:00.25Z', AT_MS + 250],
    ['2026-05-09T10:15:00.9999Z', AT_MS + 999],
    ['2024-02-29T00:00:00Z', Date.UTC(2024, 1, 29)],
    ['1969-12-31T23:59:59Z', -1_000],
  ])('%s', (text, expected) => {
    expect(parseInstant(text)).toBe(expected)
  })

  it.each([
    '2026-02-30T00:00:00Z', // Date.parse would make it 2 March
    '2026-02-29T00:00:00Z',
    '2026-04-31T00:00:00Z',
    '2026-13-01T00:00:00Z',
    '2026-00-10T00:00:00Z',
    '2026-05-00T00:00:00Z',
    '2026-05-09T24:00:00Z',
    '2026-05-09T10:60:00Z',
    '2016-12-31T23:59:60Z', // a leap second that was
    '2026-05-09T10:15:00',
    '2026-05-09',
    '2026-05-09T10:15:00+0100',
    '2026-05-09T10:15:00+24:00',
    '2026-05-09T10:15:00+01:60',
    '2026-05-09T10:15:00,5Z',
    '2026-05-09T10Z',
    '0050-05-09T10:15:00Z', // Date.UTC would make it 1950
    '26-05-09T10:15:00Z',
    ' 2026-05-09T10:15:00Z',
    '2026-05-09T10:15:00Z\n',
    '1778321700',
    '',
  ])('refuses %j', text => {
    expect(parseInstant(text)).toBeUndefined()
  })

  it('agrees with the long way on every text that is nearly a time', () => {
    const instant = fc.date({ noInvalidDate: true }).map(date => date.toISOString())
    const text = fc.oneof(
      instant,
      instant.map(iso => `${iso.slice(0, 19)}Z`),
    )
    const spoilt = fc.tuple(
      text,
      fc.nat(23),
      fc.constantFrom('', '0', '2', '3', '9', 'Z', '-', '.', ':', 'T', 't', ' ', '/'),
    )
    const nearly = fc.oneof(
      text,
      spoilt.map(([iso, at, by]) => iso.slice(0, at) + by + iso.slice(at + 1)),
    )
    fc.assert(
      fc.property(nearly, each => {
        expect(parseInstant(each)).toBe(parseAnyInstant(each))
      }),
      { seed: 20261128, numRuns: 20_000 },
    )
  })

  it('takes every millisecond as it is written', () => {
    for (let ms = 0; ms < 1_000; ms++) {
      expect(parseInstant(`2026-05-09T10:15:00.${String(ms).padStart(3, '0')}Z`)).toBe(AT_MS + ms)
    }
  })
})

describe('instants in words', () => {
  it('writes UTC in whole seconds, rounded down', () => {
    expect(formatInstant(AT_MS + 999)).toBe('2026-05-09T10:15:00Z')
    expect(formatInstant(-1)).toBe('1969-12-31T23:59:59Z')
    expect(parseInstant(formatInstant(AT_MS))).toBe(AT_MS)
  })

  it('says day and time without a locale', () => {
    expect(sayDay(AT_MS)).toBe('9 May 2026')
    expect(sayInstant(Date.UTC(2026, 0, 1, 3, 4))).toBe('1 Jan 2026, 03:04 UTC')
  })
})
