import type { Logger } from 'pino'
import type { Store, StoreBatch } from '../adapters/sqliteStore.js'
import { canonicalJson } from '../model/canonicalJson.js'
import type { RegisterMessage } from '../model/messages.js'
import type { RegisterFile } from '../model/register.js'
import { type Batcher, type BatchLimits, createBatcher } from './batcher.js'
import { type Core, createPlantRunner, type TickSource, toOutbox, type WorkedBatch } from './plantRunner.js'
import { recoverState } from './recover.js'

export interface OpenPlantOptions<S> {
  readonly core: Core<S>
  readonly registerMessage: (file: RegisterFile, before: RegisterFile | undefined) => RegisterMessage
  readonly store: Store
  readonly file: RegisterFile
  readonly ticks: TickSource
  readonly prefix: string
  readonly softwareVersion: string
  readonly withSeries?: boolean
  readonly now: () => number
  readonly schedule: (afterMs: number, run: () => void) => () => void
  readonly log: Logger
  readonly limits?: Partial<BatchLimits>
  /** State is saved at most so often; the journal bridges the time between. */
  readonly saveEveryMs?: number
  /** @param seconds from when it was worked out until it was safe */
  readonly written: (batch: PlantBatch, seconds: number) => void
  readonly lost: (error: unknown) => void
}

/** One batch as it is written. */
export type PlantBatch = WorkedBatch & Pick<StoreBatch, 'state' | 'meta'>

export interface OpenPlant {
  readonly batcher: Batcher
  /** Saves the state as of the last input, so that the next start has nothing to step again. */
  readonly save: () => void
}

const SAVE_EVERY_MS = 10_000
/** A start steps the journal after the saved state again; this bounds how long that takes. */
const SAVE_EVERY_INPUTS = 50_000
const STORED_REGISTER = 'register'

/**
 * Brings a plant to the end of its journal, writes its register into the journal where that changed, and returns the
 * batcher through which everything else goes.
 */
export function openPlant<S>(options: OpenPlantOptions<S>): OpenPlant {
  const { core, store, file, log, now } = options
  const startedMs = now()
  const lastSeq = store.lastSeq()
  const behind = lastSeq - store.stateSeq()
  const remade: StoreBatch['events'][number][] = []
  const state = recoverState(core, store, file.plant, events => {
    for (const event of events) remade.push(toOutbox(event, options))
  })
  const { differing } = store.commit({ journal: [], positions: new Map(), events: remade, rejects: [] })
  if (differing.length > 0)
    log.error({ events: differing.length, first: differing[0] }, 'Events came out otherwise when made again')
  log.info({ lastSeq, steppedAgain: behind, durationMs: now() - startedMs }, 'State recovered')

  const runner = createPlantRunner(state, { ...options, lastSeq })
  let savedMs = now()
  let savedSeq = store.stateSeq()

  const withState = (batch: PlantBatch): PlantBatch => {
    const seq = batch.journal.at(-1)?.seq ?? savedSeq
    const due = now() - savedMs >= (options.saveEveryMs ?? SAVE_EVERY_MS) || seq - savedSeq >= SAVE_EVERY_INPUTS
    if (!due) return batch
    savedMs = now()
    savedSeq = seq
    return { ...batch, state: runner.serialise() }
  }

  const before = store.meta(STORED_REGISTER)
  const message = options.registerMessage(file, before === undefined ? undefined : (JSON.parse(before) as RegisterFile))
  if (before === undefined || before !== canonicalJson(file)) {
    const receivedAt = options.ticks === 'event' ? {} : { receivedAt: new Date(now()).toISOString() }
    const batch = runner.advance([{ feed: 'service', ...receivedAt, message }])
    store.commit({ ...batch, meta: new Map([[STORED_REGISTER, canonicalJson(file)]]) })
    log.info({ hash: message.hash, changed: message.changed.length }, 'Register taken')
  }

  const tellDisk = diskNews(log)
  const batcher = createBatcher<{ readonly batch: PlantBatch; readonly workedMs: number }>({
    prepare: (inputs, meta) => ({ batch: withState({ ...runner.advance(inputs), meta }), workedMs: performance.now() }),
    write: ({ batch }) => {
      const committed = store.write(batch)
      if (committed.differing.length > 0) log.error({ first: committed.differing[0] }, 'An event id was used twice')
    },
    synced: store.synced,
    written: ({ batch, workedMs }) => {
      tellDisk.written()
      options.written(batch, (performance.now() - workedMs) / 1_000)
    },
    failed: tellDisk.failed,
    lost: options.lost,
    schedule: options.schedule,
    ...(options.limits === undefined ? {} : { limits: options.limits }),
  })

  return {
    batcher,
    save: () => {
      store.commit({ journal: [], positions: new Map(), events: [], rejects: [], state: runner.serialise() })
    },
  }
}

/** One line when the disk begins to refuse, one when it takes again: attempts come every second. */
function diskNews(log: Logger): {
  readonly failed: (err: unknown, attempt: number) => void
  readonly written: () => void
} {
  let refused = 0
  return {
    failed: (err, attempt) => {
      refused = attempt
      if (attempt === 1) log.error({ err }, DISK_REFUSES)
    },
    written: () => {
      if (refused > 0) log.info({ attempts: refused }, 'The store takes batches again')
      refused = 0
    },
  }
}

const DISK_REFUSES =
  'The store takes nothing, so nothing is acknowledged; tried again each second for a minute, then the service ends'
