import type { Fault } from './faults.js'

/**
 * What is written to the journal and handed to the core: one message as it arrived, still in its wire form.
 * `receivedAt`, `feed` and `position` never reach an event.
 */
export interface RecordedInput {
  /** RFC 3339; absent for files, where nobody knows when a line was first heard. */
  readonly receivedAt?: string
  readonly feed: string
  /** Where it stood: `stream.ndjson:1204`, `topic@offset`. For the dead-letter record only. */
  readonly position?: string
  readonly message: unknown
}

/** What cannot be decoded is recorded like this, so that a replay counts it again. */
export interface Rejected {
  readonly kind: 'rejected'
  readonly faults: readonly Fault[]
  /** The first 1,024 characters of what came, control characters escaped. */
  readonly excerpt: string
}
