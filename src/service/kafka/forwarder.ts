import { LastingError, type OutRecord } from '../../adapters/kafka/partitionLog.js'
import type { RecordSender } from '../../adapters/kafka/recordSender.js'

export interface ForwarderOptions {
  readonly sender: Pick<RecordSender, 'send'>
  readonly schedule: (afterMs: number, run: () => void) => () => void
  /** Records were not taken and will be sent again. */
  readonly failed: (error: unknown, attempt: number) => void
  /** They never will be. */
  readonly lost: (error: unknown) => void
}

export interface Forwarder {
  /**
   * @param sent called when the records are safe, in the order of the offers; never otherwise
   * @param taken called when there is room for the next
   */
  readonly offer: (records: readonly OutRecord[], sent: () => void, taken: () => void) => void
  /** Sends what was offered, as long as that can be done at once, and takes no more. */
  readonly stop: () => Promise<void>
}

export const FORWARD_LIMITS = { records: 500, waitMs: 25, capacity: 1_000 }
const FIRST_RETRY_MS = 200
const LONGEST_RETRY_MS = 10_000

interface Offer {
  readonly records: readonly OutRecord[]
  readonly sent: () => void
}

/** Gathers records, sends them in order, and says of each when it is safe. What failed is sent again before the rest. */
export function createForwarder({ sender, schedule, failed, lost }: ForwarderOptions): Forwarder {
  let queue: Offer[] = []
  let held: (() => void)[] = []
  let sending: Promise<void> | undefined
  let isStopping = false
  let cancelPlan: (() => void) | undefined

  return {
    offer: (records, sent, taken) => {
      if (isStopping) return
      queue.push({ records, sent })
      if (queue.length < FORWARD_LIMITS.capacity) taken()
      else held.push(taken)
      plan()
    },
    stop: async () => {
      isStopping = true
      cancelPlan?.()
      await sending
      while (queue.length > 0 && (await sendOnce(queue.length))) continue
    },
  }

  function plan(): void {
    if (sending !== undefined || queue.length === 0 || isStopping) return
    if (queue.length >= FORWARD_LIMITS.records) {
      cancelPlan?.()
      cancelPlan = undefined
      sending = sendAll()
      return
    }
    cancelPlan ??= schedule(FORWARD_LIMITS.waitMs, () => {
      cancelPlan = undefined
      sending ??= sendAll()
    })
  }

  async function sendAll(): Promise<void> {
    for (let attempt = 1; !isStopping && queue.length > 0; attempt++) {
      if (await sendOnce(attempt)) break
      await new Promise<void>(resolve => {
        schedule(Math.min(FIRST_RETRY_MS * 2 ** attempt, LONGEST_RETRY_MS), resolve)
      })
    }
    sending = undefined
    plan()
  }

  async function sendOnce(attempt: number): Promise<boolean> {
    const batch = queue.slice(0, FORWARD_LIMITS.records)
    try {
      await sender.send(batch.flatMap(({ records }) => records))
    } catch (error) {
      if (error instanceof LastingError) {
        isStopping = true
        lost(error)
      } else failed(error, attempt)
      return false
    }
    queue = queue.slice(batch.length)
    for (const { sent } of batch) sent()
    const waiting = held
    held = []
    for (const taken of waiting) taken()
    return true
  }
}
