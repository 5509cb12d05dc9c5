import { Buffer } from 'node:buffer'
import { describe, expect, it } from 'vitest'
import { committedRecords, type FetchedRecord } from '../../../src/adapters/kafka/committedRecords.js'

describe('what a reader at read-committed sees', () => {
  it('leaves out markers and what was aborted, of each writer by itself', () => {
    const fetched = [
      record(0, 'a'),
      record(1, 'b'),
      marker(2, 'a'),
      record(3, 'a'),
      marker(4, 'b'),
      record(5, 'b'),
      marker(6, 'a'),
      record(7, '-1', false),
    ]
    expect(offsetsOf(fetched, [['a', 0]])).toEqual([1, 3, 5, 7])
    expect(offsetsOf(fetched, [['b', 1]])).toEqual([0, 3, 5, 7])
    expect(offsetsOf(fetched, null)).toEqual([0, 1, 3, 5, 7])
  })

  it('knows of aborted transactions that began before what was fetched, several at once and in any order', () => {
    const fetched = [record(10, 'b'), record(11, 'a'), marker(12, 'a'), record(13, 'a'), marker(14, 'b')]
    expect(
      offsetsOf(fetched, [
        ['b', 8],
        ['a', 5],
      ]),
    ).toEqual([13])
  })

  it('lets records without a transaction pass, whatever their writer aborted', () => {
    expect(offsetsOf([record(0, 'a'), record(1, 'a', false)], [['a', 0]])).toEqual([1])
  })
})

function offsetsOf(
  fetched: readonly FetchedRecord[],
  aborted: readonly (readonly [string, number])[] | null,
): number[] {
  const transactions = aborted?.map(([producerId, first]) => ({ producerId, firstOffset: String(first) })) ?? null
  return committedRecords(fetched, transactions).map(({ offset }) => offset)
}

function record(offset: number, producerId: string, inTransaction = true): FetchedRecord {
  const key = Buffer.from('key')
  return {
    offset: String(offset),
    timestamp: '0',
    key,
    value: key,
    isControlRecord: false,
    batchContext: { producerId, inTransaction },
  }
}

function marker(offset: number, producerId: string): FetchedRecord {
  return { ...record(offset, producerId), isControlRecord: true }
}
