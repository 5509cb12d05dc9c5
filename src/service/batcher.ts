import type { RecordedInput } from '../model/recordedInput.js'

/** One input on its way to the disk, or what a source has to remember of what it read. */
export interface Pending {
  readonly input?: RecordedInput
  /** Rows of the store to be written together with the input. */
  readonly rows?: ReadonlyMap<string, string>
  /** Called once the input is safe on disk; never otherwise. Must not throw. */
  readonly committed?: () => void
}

/** @template B a batch worked out and ready to be written */
export interface BatcherOptions<B> {
  /** Works the inputs through the core; called once for each batch, in order. */
  readonly prepare: (inputs: readonly RecordedInput[], rows: ReadonlyMap<string, string>) => B
  /** Writes the batch as a whole or throws; after a throw it is called again with the same batch. */
  readonly write: (batch: B) => void
  /** Calls back when all that was written before the call is safe, or with why it is not: then the disk is lost. */
  readonly synced: (done: (error?: Error) => void) => void
  /** After the batch is safe, and its inputs acknowledged. */
  readonly written: (batch: B) => void
  /** A write failed and will be tried again. */
  readonly failed: (error: unknown, attempt: number) => void
  /** The batcher has given up: nothing more is written or acknowledged. */
  readonly lost: (error: unknown) => void
  /** Runs a function later; returns what cancels it. */
  readonly schedule: (afterMs: number, run: () => void) => () => void
  readonly limits?: Partial<BatchLimits>
}

interface Written<B> {
  readonly items: readonly Pending[]
  readonly batch: B
}

export interface BatchLimits {
  /** Inputs in one batch. */
  readonly maxItems: number
  /** Inputs that may wait for the next batch; a source that has more is held up. */
  readonly capacity: number
  /** A batch is written when nothing came for so long … */
  readonly quietMs: number
  /** … and at the latest after so many such pauses. */
  readonly maxPauses: number
  readonly retryMs: number
  readonly attempts: number
}

/** 500 inputs or about 25 ms; a failing disk is tried for a minute. */
export const BATCH_LIMITS: BatchLimits = {
  maxItems: 500,
  capacity: 1_000,
  quietMs: 3,
  maxPauses: 8,
  retryMs: 1_000,
  attempts: 60,
}

export interface Batcher {
  /**
   * Hands in one input. `taken` is called as soon as it is in the queue, at once while there is room: a source waits
   * for it before it hands in more. After `stop` or a lost disk nothing is taken and nothing acknowledged.
   */
  readonly offer: (item: Pending, taken?: () => void) => void
  /** Takes no more, writes what it has, and resolves when that is done or given up. */
  readonly stop: () => Promise<void>
}

/**
 * Gathers inputs from all sources, and for each batch: prepare, write, and once it is safe, acknowledge in the order of
 * arrival. A batch that could not be written holds back all later ones. While the disk makes one batch safe, the next
 * is prepared and written, and no more than that one.
 */
export function createBatcher<B>(options: BatcherOptions<B>): Batcher {
  const limits = { ...BATCH_LIMITS, ...options.limits }
  const queue: Pending[] = []
  const held: { readonly item: Pending; readonly taken: (() => void) | undefined }[] = []
  /** Written, and waiting for its turn to be made safe. */
  let written: Written<B> | undefined
  let syncing = false
  let phase: 'open' | 'stopping' | 'ended' = 'open'
  let busy = false
  let cancelPause: (() => void) | undefined
  let onEnd: (() => void)[] = []

  return {
    offer: (item, taken) => {
      if (phase !== 'open') return
      if (queue.length >= limits.capacity) {
        held.push({ item, taken })
        return
      }
      queue.push(item)
      taken?.()
      go()
    },
    stop: () =>
      new Promise(resolve => {
        if (phase === 'ended') {
          resolve()
          return
        }
        onEnd.push(resolve)
        phase = 'stopping'
        held.length = 0
        go()
      }),
  }

  function go(): void {
    if (busy || written !== undefined || phase === 'ended') return
    if (queue.length >= limits.maxItems || (phase === 'stopping' && queue.length > 0)) writeNext()
    else if (queue.length > 0) cancelPause ??= pause(1, queue.length)
    else if (phase === 'stopping' && !syncing) end()
  }

  /** Many small waits instead of one long one: at a quiet plant a message is on disk after the first. */
  function pause(count: number, lengthBefore: number): () => void {
    return options.schedule(limits.quietMs, () => {
      cancelPause = undefined
      if (busy || written !== undefined) return
      if (queue.length === lengthBefore || count >= limits.maxPauses) writeNext()
      else cancelPause = pause(count + 1, queue.length)
    })
  }

  function writeNext(): void {
    cancelPause?.()
    cancelPause = undefined
    const items = queue.splice(0, limits.maxItems)
    if (items.length === 0) return
    busy = true
    let batch: B
    try {
      batch = options.prepare(inputsOf(items), rowsOf(items))
    } catch (error) {
      giveUp(error)
      return
    }
    tryWrite(items, batch, 1)
  }

  function tryWrite(items: readonly Pending[], batch: B, attempt: number): void {
    try {
      options.write(batch)
    } catch (error) {
      if (attempt >= limits.attempts) giveUp(error)
      else {
        options.failed(error, attempt)
        options.schedule(limits.retryMs, () => tryWrite(items, batch, attempt + 1))
      }
      return
    }
    written = { items, batch }
    sync()
    while (held.length > 0 && queue.length < limits.capacity) {
      const { item, taken } = held.shift()!
      queue.push(item)
      taken?.()
    }
    // Not in the same turn: sockets are to be served between two full batches.
    options.schedule(0, () => {
      busy = false
      go()
    })
  }

  function sync(): void {
    if (syncing || written === undefined) return
    const { items, batch } = written
    written = undefined
    syncing = true
    options.synced(error => {
      syncing = false
      if (phase === 'ended') return
      if (error !== undefined) {
        giveUp(error)
        return
      }
      for (const item of items) item.committed?.()
      options.written(batch)
      sync()
      go()
    })
  }

  function giveUp(error: unknown): void {
    options.lost(error)
    end()
  }

  function end(): void {
    phase = 'ended'
    cancelPause?.()
    queue.length = 0
    held.length = 0
    written = undefined
    for (const resolve of onEnd) resolve()
    onEnd = []
  }
}

function inputsOf(items: readonly Pending[]): readonly RecordedInput[] {
  const inputs: RecordedInput[] = []
  for (const { input } of items) if (input !== undefined) inputs.push(input)
  return inputs
}

/** The newest of each. */
function rowsOf(items: readonly Pending[]): ReadonlyMap<string, string> {
  const all = new Map<string, string>()
  for (const { rows } of items) if (rows !== undefined) for (const [key, text] of rows) all.set(key, text)
  return all
}
