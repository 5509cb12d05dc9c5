import type { OutboxRow } from './sqliteStore.js'

/** What a sink may tell while it hands over a page of events. */
export interface Handover {
  /** Everything up to this number is where it should be: a repeat begins behind it. */
  readonly taken: (seq: number) => void
  /** The receiver refuses this one event for good, and takes others. To be said before `taken` of a later one. */
  readonly setAside: (row: OutboxRow, reason: string) => void
}

/** Why events could not be handed over, where the receiver said when, or whether, to try again. */
export class NotTaken extends Error {
  override readonly name = 'NotTaken'
  /** Not before so long. */
  readonly retryAfterMs: number | undefined
  /** Not before the next start. */
  readonly forGood: boolean

  constructor(message: string, more: { readonly retryAfterMs?: number; readonly forGood?: boolean } = {}) {
    super(message)
    this.retryAfterMs = more.retryAfterMs
    this.forGood = more.forGood ?? false
  }
}
