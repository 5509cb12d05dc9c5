import { Buffer } from 'node:buffer'
import { keyPartition } from '../../../src/adapters/kafka/keyPartition.js'
import type {
  LogRecord,
  OutRecord,
  PartitionLog,
  Transaction,
  TransactionWriter,
} from '../../../src/adapters/kafka/partitionLog.js'

/** What happens to a commit: all well; it fails before anything is written, or is written and its answer is lost. */
export type CommitFate = 'well' | 'fails' | 'answer lost' | 'pending'

export interface MemoryLog extends PartitionLog {
  readonly append: (
    topic: string,
    partition: number,
    record: Partial<Omit<LogRecord, 'key'>> & { readonly key: string | null },
  ) => void
  /** An offset that no reader sees, as markers and aborted records take one. */
  readonly appendMarker: (topic: string, partition: number) => void
  readonly records: (topic: string) => readonly LogRecord[]
  readonly committed: (topic: string, partition: number) => number | undefined
  /** Fates of the commits to come; after them all goes well. */
  readonly fates: CommitFate[]
  /** Times the next call of a kind fails. */
  readonly failures: { openWriter: number; read: number }
  /** Deletes what lies before an offset. */
  readonly expire: (topic: string, partition: number, before: number) => void
}

interface Stored {
  readonly record: LogRecord | undefined
  readonly offset: number
}

/** A log with transactions in memory, which fails when it is told to. */
export function memoryLog(topics: Readonly<Record<string, number>>): MemoryLog {
  const stored = new Map<string, Stored[]>()
  const firsts = new Map<string, number>()
  const offsets = new Map<string, number>()
  const epochs = new Map<string, number>()
  const pending = new Map<string, { readonly epoch: number; readonly apply: () => void; readonly fail: () => void }[]>()
  const fates: CommitFate[] = []
  const failures = { openWriter: 0, read: 0 }
  for (const [topic, partitions] of Object.entries(topics)) {
    for (let partition = 0; partition < partitions; partition++) stored.set(`${topic}/${partition}`, [])
  }
  const entries = (topic: string, partition: number): Stored[] => {
    const found = stored.get(`${topic}/${partition}`)
    if (found === undefined) throw new Error(`there is no ${topic}/${partition}`)
    return found
  }
  const push = (topic: string, partition: number, record: Omit<LogRecord, 'offset'> | undefined): void => {
    const list = entries(topic, partition)
    const offset = (list.at(-1)?.offset ?? -1) + 1
    list.push({ offset, record: record === undefined ? undefined : { ...record, offset } })
  }
  const apply = ({ group, records, offsets: read }: Transaction): void => {
    const touched = new Set<string>()
    for (const record of records) {
      const { topic } = record
      const partition = record.partition ?? keyPartition(record.key, topics[topic]!)
      push(topic, partition, toRecord(record))
      touched.add(`${topic}/${partition}`)
    }
    for (const place of touched) {
      const at = place.lastIndexOf('/')
      push(place.slice(0, at), Number(place.slice(at + 1)), undefined)
    }
    for (const { topic, partition, next } of read) offsets.set(`${group}/${topic}/${partition}`, next)
  }
  const writer = (id: string, epoch: number): TransactionWriter => ({
    commit: async transaction => {
      await Promise.resolve()
      if (epochs.get(id) !== epoch) throw new Error('fenced')
      const fate = fates.shift() ?? 'well'
      if (fate === 'fails') throw new Error('the broker went away before the commit')
      if (fate === 'pending') {
        await new Promise<void>((resolve, reject) => {
          const entry = {
            epoch,
            apply: () => {
              apply(transaction)
              resolve()
            },
            fail: () => reject(new Error('fenced')),
          }
          pending.set(id, [...(pending.get(id) ?? []), entry])
        })
        return
      }
      apply(transaction)
      if (fate === 'answer lost') throw new Error('the broker went away after the commit')
    },
    close: async () => {},
  })
  return {
    openWriter: async id => {
      await Promise.resolve()
      if (failures.openWriter > 0) {
        failures.openWriter--
        throw new Error('the coordinator is not there')
      }
      // What an older writer had under way ends now: every other one was past its commit.
      for (const [index, { apply, fail }] of (pending.get(id) ?? []).entries())
        if (index % 2 === 0) apply()
        else fail()
      pending.delete(id)
      const epoch = (epochs.get(id) ?? 0) + 1
      epochs.set(id, epoch)
      return writer(id, epoch)
    },
    read: async (topic, partition, { from, to }, take) => {
      const kept = firsts.get(`${topic}/${partition}`) ?? 0
      if (from < kept) throw new Error('out of range')
      if (failures.read > 0) {
        failures.read--
        throw new Error('the leader moved')
      }
      const found = entries(topic, partition).flatMap(({ offset, record }) =>
        offset >= from && offset < to && record !== undefined ? [record] : [],
      )
      for (let at = 0; at < found.length; at += 7) await take(found.slice(at, at + 7))
    },
    bounds: async (topic, partition) => ({
      first: firsts.get(`${topic}/${partition}`) ?? 0,
      end: (entries(topic, partition).at(-1)?.offset ?? -1) + 1,
    }),
    committedOffset: async (group, topic, partition) => offsets.get(`${group}/${topic}/${partition}`),
    append: (topic, partition, { key, value = null, timestampMs = 0, headers = {} }) =>
      push(topic, partition, { key: key === null ? null : Buffer.from(key), value, timestampMs, headers }),
    appendMarker: (topic, partition) => push(topic, partition, undefined),
    records: topic =>
      Array.from({ length: topics[topic]! }, (_, partition) => entries(topic, partition)).flatMap(list =>
        list.flatMap(({ record }) => record ?? []),
      ),
    committed: (topic, partition) => offsets.get(`g/${topic}/${partition}`),
    fates,
    failures,
    expire: (topic, partition, before) => {
      firsts.set(`${topic}/${partition}`, before)
    },
  }
}

function toRecord({ key, value, headers, timestampMs }: OutRecord): Omit<LogRecord, 'offset'> {
  const wire = Object.entries(headers ?? {}).map(([name, text]) => [name, Buffer.from(text)])
  return {
    key: Buffer.from(key),
    value: typeof value === 'string' ? Buffer.from(value) : value,
    headers: Object.fromEntries(wire) as Record<string, unknown>,
    timestampMs: timestampMs ?? 0,
  }
}
