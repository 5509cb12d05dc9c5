import type { Buffer } from 'node:buffer'
import type { IHeaders } from 'kafkajs'
import type { LogRecord } from './partitionLog.js'

/** A record as a fetch brings it, before anything is left out. */
export interface FetchedRecord extends WireRecord {
  readonly isControlRecord: boolean
  readonly batchContext: { readonly producerId: string; readonly inTransaction: boolean }
}

export interface WireRecord {
  readonly offset: string
  readonly timestamp: string
  readonly key: Buffer | null
  readonly value: Buffer | null
  readonly headers?: IHeaders
}

export interface AbortedTransaction {
  readonly producerId: string
  readonly firstOffset: string
}

/** Offsets are below 2^53 for as long as a partition can live, so numbers hold them. */
export function toLogRecord({ offset, timestamp, key, value, headers }: WireRecord): LogRecord {
  return { offset: Number(offset), timestampMs: Number(timestamp), key, value, headers: headers ?? NO_HEADERS }
}

const NO_HEADERS = {}

/**
 * What a reader at read-committed may see: neither markers nor what an aborted transaction wrote. Brokers send both,
 * with a list of the aborted transactions that reach into what they sent.
 */
export function committedRecords(
  fetched: readonly FetchedRecord[],
  abortedTransactions: readonly AbortedTransaction[] | null,
): LogRecord[] {
  const waiting = [...(abortedTransactions ?? [])].sort((a, b) => Number(a.firstOffset) - Number(b.firstOffset))
  const aborted = new Set<string>()
  const records: LogRecord[] = []
  for (const record of fetched) {
    // Several may have begun before the first record that was sent.
    while (waiting.length > 0 && Number(waiting[0]!.firstOffset) <= Number(record.offset)) {
      aborted.add(waiting.shift()!.producerId)
    }
    const { producerId, inTransaction } = record.batchContext
    if (record.isControlRecord) aborted.delete(producerId)
    else if (!(inTransaction && aborted.has(producerId))) records.push(toLogRecord(record))
  }
  return records
}
