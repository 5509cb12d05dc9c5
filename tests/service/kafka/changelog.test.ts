import { Buffer } from 'node:buffer'
import { describe, expect, it } from 'vitest'
import type { OutRecord } from '../../../src/adapters/kafka/partitionLog.js'
import { createChangelogReader, partsOf, plantRecord, rowRecords } from '../../../src/service/kafka/changelog.js'

const PLACE = { in: 5, rekeyed: 0, tick: 0 }
const REGISTER = { plant: 'weir', points: {} }
const LONG = `${'é'.repeat(399_999)}x${'y'.repeat(500_000)}`

describe('the changelog', () => {
  it('gives back rows of any length, and forgets the parts of a longer one before', () => {
    const before = rowRecords('weir', 'point A', LONG, 0)
    const after = rowRecords('weir', 'point A', 'short', before.length)
    expect(before.length).toBe(partsOf(LONG))
    for (const { value } of before) expect(Buffer.byteLength(value!)).toBeLessThan(900_000)
    const plant = (text: string) =>
      plantRecord('weir', { place: PLACE, register: REGISTER, rows: { 'point A': partsOf(text) } })
    expect(
      read([...before, plant(LONG)])
        .plants.get('weir')
        ?.texts.get('point A'),
    ).toBe(LONG)
    const short = read([...before, plant(LONG), ...after, plant('short')])
    expect(short.plants.get('weir')?.texts).toEqual(new Map([['point A', 'short']]))
  })

  it('says what is wrong where a part is missing or of another version', () => {
    const [first] = rowRecords('weir', 'point A', LONG, 0)
    const plant = plantRecord('weir', { place: PLACE, register: REGISTER, rows: { 'point A': partsOf(LONG) } })
    expect(() => read([first!, plant])).toThrow('lacks a part of row "point A" of weir')
    expect(() => read([{ key: 'position', value: '{"version":2}' }])).toThrow('"position" has version 2')
  })
})

function read(records: readonly Pick<OutRecord, 'key' | 'value'>[]) {
  const reader = createChangelogReader()
  reader.take(
    records.map(({ key, value }, offset) => ({
      offset,
      timestampMs: 0,
      headers: {},
      key: Buffer.from(key),
      value: typeof value === 'string' ? Buffer.from(value) : value,
    })),
  )
  return reader.loaded()
}
