import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { produceRequests, REQUEST_BYTES } from '../../../src/adapters/kafka/produceRequests.js'

describe('records in requests', () => {
  it('keep their order, and each request below what brokers take at once', () => {
    const records = Array.from({ length: 60 }, (_, index) => ({
      topic: 't',
      key: 'k',
      value: `${String(index)} ${'é'.repeat(20_000)}`,
    }))
    const requests = produceRequests(records)
    expect(requests.flatMap(({ messages }) => messages.messages.map(({ value }) => value))).toEqual(
      records.map(({ value }) => value),
    )
    expect(requests.length).toBeGreaterThan(1)
    for (const { messages } of requests) {
      const bytes = messages.messages.reduce((sum, { value }) => sum + Buffer.byteLength(value as string), 0)
      expect(bytes).toBeLessThan(REQUEST_BYTES)
    }
  })

  it('are never of two partitions, lose nothing and keep the order of each', () => {
    const record = fc.record(
      { topic: fc.constantFrom('a', 'b'), key: fc.constantFrom('p', 'q', '0'), partition: fc.constantFrom(0, 1) },
      { requiredKeys: ['topic', 'key'] },
    )
    fc.assert(
      fc.property(fc.array(record, { maxLength: 40 }), drawn => {
        const records = drawn.map((one, index) => ({ ...one, value: String(index) }))
        const placeOf = (one: (typeof records)[number]): string =>
          one.partition === undefined ? `${one.topic} key ${one.key}` : `${one.topic} ${String(one.partition)}`
        const requests = produceRequests(records)
        const values = requests.map(({ messages }) => messages.messages.map(({ value }) => Number(value)))
        for (const together of values) {
          expect(new Set(together.map(index => placeOf(records[index]!))).size).toBe(1)
          expect([...together].sort((a, b) => a - b)).toEqual(together)
        }
        expect(values.flat().sort((a, b) => a - b)).toEqual(records.map((_, index) => index))
      }),
      { seed: 20261128 },
    )
  })

  it('are one where they are few, and none where there are none', () => {
    const removed = { topic: 't', key: 'k', value: null }
    expect(produceRequests([removed, removed]).map(({ messages }) => messages)).toEqual([
      { topic: 't', messages: [removed, removed].map(({ key, value }) => ({ key, value })) },
    ])
    expect(produceRequests([])).toEqual([])
  })
})
