import { describe, expect, it } from 'vitest'
import { CHUNK_BYTES, chunksOf } from '../../../src/adapters/kafka/transactionWriter.js'

describe('records of a transaction in requests', () => {
  it('keep their order, and each request below what brokers take at once', () => {
    const records = Array.from({ length: 40 }, (_, index) => ({
      topic: 't',
      key: String(index),
      value: 'é'.repeat(20_000 + index),
    }))
    const chunks = chunksOf(records)
    expect(chunks.flat()).toEqual(records)
    expect(chunks.length).toBeGreaterThan(1)
    for (const chunk of chunks) {
      expect(chunk.reduce((sum, { value }) => sum + Buffer.byteLength(value!), 0)).toBeLessThan(CHUNK_BYTES)
    }
  })

  it('are one request where they are few, and none where there are none', () => {
    const removed = { topic: 't', key: 'k', value: null }
    expect(chunksOf([removed, removed])).toEqual([[removed, removed]])
    expect(chunksOf([])).toEqual([])
  })
})
