import type { Buffer } from 'node:buffer'

/**
 * What a member of the group needs of a log such as Kafka's, and all it knows of one: everything that works plants is
 * written against this port, so that the client behind it can be changed, and tests can put a log with faults in its
 * place.
 */
export interface PartitionLog {
  /**
   * Opens a writer of transactions. Whoever wrote under the same id before cannot commit any more when this resolves,
   * and what they had begun has ended one way or the other.
   */
  readonly openWriter: (id: string) => Promise<TransactionWriter>
  /**
   * Hands over the committed records of `[from, to)` in order, some at a time, as far as there are any.
   * @param take awaited before more is read
   */
  readonly read: (
    topic: string,
    partition: number,
    range: { readonly from: number; readonly to: number },
    take: (records: readonly LogRecord[]) => Promise<void> | void,
  ) => Promise<void>
  /** The first offset that is still there, and the one the next committed record will have at least. */
  readonly bounds: (topic: string, partition: number) => Promise<{ readonly first: number; readonly end: number }>
  /** The offset the group committed; undefined where it never did. */
  readonly committedOffset: (group: string, topic: string, partition: number) => Promise<number | undefined>
}

export interface LogRecord {
  readonly offset: number
  readonly timestampMs: number
  readonly key: Buffer | null
  readonly value: Buffer | null
  readonly headers: Readonly<Record<string, unknown>>
}

export interface OutRecord {
  readonly topic: string
  /** Absent: the partition of the key. */
  readonly partition?: number
  readonly key: string
  /** Null removes the key from a compacted topic. */
  readonly value: string | Buffer | null
  readonly headers?: Readonly<Record<string, string>>
  readonly timestampMs?: number
}

/** Records and the offsets up to which they include the input: all of it or nothing. */
export interface Transaction {
  readonly group: string
  readonly records: readonly OutRecord[]
  readonly offsets: readonly { readonly topic: string; readonly partition: number; readonly next: number }[]
}

export interface TransactionWriter {
  /** Resolves when it is committed. After a throw nobody knows whether it is: throw the writer away and read. */
  readonly commit: (transaction: Transaction) => Promise<void>
  readonly close: () => Promise<void>
}

/** Records of one partition as the group hands them over, in order. */
export interface DeliveredBatch {
  readonly topic: string
  readonly partition: number
  /** Offset of the first record or marker in it. */
  readonly first: number
  /** Where the next batch goes on. */
  readonly next: number
  /** Where the partition ended when this was fetched. */
  readonly end: number
  readonly records: readonly LogRecord[]
}

/** Partition numbers stand for that partition of all topics of the group: they always go to one member together. */
export interface GroupHandlers {
  /** All partitions that are ours from now on; nothing is delivered of one before `resumeAt`. */
  readonly assigned: (partitions: readonly number[], membership: Membership) => void
  /**
   * @param beat tells the group that we live, and throws where the partitions are being dealt anew
   * @returns true when taken; false leaves the place where it was
   */
  readonly batch: (batch: DeliveredBatch, beat: () => Promise<void>) => Promise<boolean>
  /** The client gave up: the member cannot go on. */
  readonly ended: (error: unknown, membership: Membership) => void
}

export interface Membership {
  readonly pause: (partition: number) => void
  readonly resumeAt: (partition: number, offsets: ReadonlyMap<string, number>) => void
  /** Throws where the group no longer counts us as a member. */
  readonly confirm: () => Promise<void>
  /** Stops the deliveries and stays a member, so that what was taken can still be committed. */
  readonly quiesce: () => void
  readonly leave: () => Promise<void>
}

export interface Group {
  readonly join: (topics: readonly string[], handlers: GroupHandlers) => Promise<Membership>
}

/** Nothing that passes by itself: no permission, a log that was made anew, a state that cannot be read. */
export class LastingError extends Error {
  override readonly name = 'LastingError'
}
