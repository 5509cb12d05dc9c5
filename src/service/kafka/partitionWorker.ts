import type { Logger } from 'pino'
import {
  type DeliveredBatch,
  LastingError,
  type Membership,
  type PartitionLog,
  type TransactionWriter,
} from '../../adapters/kafka/partitionLog.js'
import type { RegisterMessage } from '../../model/messages.js'
import type { RegisterFile } from '../../model/register.js'
import { startClockTicks } from '../clockTicks.js'
import { sparingly, tellJump } from '../log.js'
import type { Core } from '../plantRunner.js'
import type { MemberSettings } from './memberSettings.js'
import { inputTopics, type PartitionState } from './partitionState.js'
import type { PlaceTopic } from './place.js'
import type { PlantDirectory } from './plantOfRecord.js'
import { restorePartition } from './restorePartition.js'

export interface WorkerOptions<S> {
  readonly partition: number
  readonly log: PartitionLog
  readonly membership: Pick<Membership, 'pause' | 'resumeAt' | 'confirm'>
  readonly core: Core<S>
  readonly registerMessage: (file: RegisterFile, before: RegisterFile | undefined) => RegisterMessage
  readonly settings: MemberSettings
  readonly directory: PlantDirectory
  readonly logger: Logger
  readonly now: () => number
  readonly schedule: (afterMs: number, run: () => void) => () => void
  /** The partition works for the first time. */
  readonly opened: () => void
  /** The partition cannot be worked, now or later. */
  readonly lost: (error: unknown) => void
}

export interface PartitionWorker {
  /** As `GroupHandlers.batch`. */
  readonly batch: (batch: DeliveredBatch, beat: () => Promise<void>) => Promise<boolean>
  /** Deliveries go on from where the state stands, once it stands anywhere: after the group dealt partitions anew. */
  readonly resume: () => void
  /** Commits what was taken together with every state that changed, then closes. */
  readonly finish: () => Promise<void>
  /** Gives the partition up as it is; what is under way may or may not be committed. */
  readonly close: () => void
}

export const COMMIT_LIMITS = { inputs: 5_000, waitMs: 500 }
const INPUTS_AT_ONCE = 500
const FIRST_RETRY_MS = 100
const LONGEST_RETRY_MS = 5_000
/** Who waits for a commit shows the group so often that it lives. */
const BEAT_MS = 1_000
/** A transaction under way for so long is told of. */
const STALL_MS = 15_000

/** A writer and the state it writes for; thrown away together. */
interface Life {
  readonly state: PartitionState
  readonly writer: TransactionWriter
  readonly ends: Map<PlaceTopic, number>
}

/**
 * Works one partition for as long as it is ours. There is one answer to whatever goes wrong, a fenced writer, a leader
 * or coordinator that moved, a commit nobody answered: throw writer and state away, open a writer under the same id,
 * which ends what the old one left, read from the changelog what was committed, and go on from there.
 */
export function createPartitionWorker<S>(options: WorkerOptions<S>): PartitionWorker {
  const { partition, log, membership, settings, now, schedule } = options
  const logger = options.logger.child({ partition })
  const topics = new Map(inputTopics(settings).map(([topic, name]) => [name, topic]))
  const refusals = new Map<string, () => void>()
  let phase: 'opening' | 'open' | 'finishing' | 'closed' = 'opening'
  let life: Life | undefined
  let committing: Promise<void> | undefined
  let waitingSinceMs: number | undefined
  let cancelPlan = (): void => {}
  let endTicks = (): void => {}
  let wakers: (() => void)[] = []

  void open(true)
  return { batch: takeBatch, resume, finish, close }

  async function open(isFirst: boolean): Promise<void> {
    for (let attempt = 0; phase === 'opening'; attempt++) {
      let writer: TransactionWriter | undefined
      try {
        // Whoever lost the partition in the meantime must not fence its new owner.
        if (!isFirst || attempt > 0) await membership.confirm()
        const startedMs = now()
        writer = await log.openWriter(`${settings.group}-${settings.topics.in}-${String(partition)}`)
        const restored = await restorePartition({ ...options, atMs: now(), breathe, refused, expired })
        if ((phase as string) !== 'opening') {
          await writer.close()
          return
        }
        life = { state: restored.state, writer, ends: new Map(restored.ends) }
        phase = 'open'
        const { steppedAgain, registered } = restored
        logger.info({ steppedAgain, registered, durationMs: now() - startedMs }, 'Partition restored')
        startTicks(life)
        resume()
        if (isFirst) options.opened()
        note()
        return
      } catch (err) {
        void writer?.close()
        if (err instanceof LastingError) {
          lose(err)
          return
        }
        logger.warn({ err, attempt }, 'Partition could not be opened and will be tried again')
        await pause(Math.min(FIRST_RETRY_MS * 2 ** attempt, LONGEST_RETRY_MS))
      }
    }
  }

  async function takeBatch(batch: DeliveredBatch, beat: () => Promise<void>): Promise<boolean> {
    const own = life
    const topic = topics.get(batch.topic)
    if (own === undefined || topic === undefined || phase !== 'open') return false
    const isOver = (): boolean => life !== own || phase !== 'open'
    if (batch.first > own.state.place()[topic]) await fillGap(own, topic, batch, isOver)
    const { records } = batch
    let at = 0
    while (!isOver()) {
      const place = own.state.place()[topic]
      while (at < records.length && records[at]!.offset < place) at++
      if (at === records.length) break
      const room = COMMIT_LIMITS.inputs - own.state.waiting()
      if (room <= 0) {
        await Promise.race([nextCommit(), pause(BEAT_MS)])
        await beat()
        continue
      }
      const slice = records.slice(at, at + Math.min(room, INPUTS_AT_ONCE))
      if (!take(own, topic, slice)) return false
      at += slice.length
      await beat()
      if (at < records.length) await breathe()
    }
    if (isOver()) return false
    own.state.pass(topic, batch.next)
    own.ends.set(topic, batch.end)
    return true
  }

  /**
   * The client steps over markers and aborted transactions by itself, and over what has expired. Whatever else lies
   * between is read here: nothing is left out because a client thought it was done with.
   */
  async function fillGap(own: Life, topic: PlaceTopic, batch: DeliveredBatch, isOver: () => boolean): Promise<void> {
    const from = own.state.place()[topic]
    const { first } = await log.bounds(batch.topic, partition)
    if (isOver()) return
    const kept = Math.min(first, batch.first)
    if (kept > from) {
      expired(batch.topic, kept - from)
      own.state.jump(topic, kept)
    }
    await log.read(batch.topic, partition, { from: Math.max(from, kept), to: batch.first }, records => {
      if (!isOver())
        take(
          own,
          topic,
          records.filter(({ offset }) => offset >= own.state.place()[topic]),
        )
    })
  }

  function take(own: Life, topic: PlaceTopic, records: DeliveredBatch['records']): boolean {
    const isTaken = guarded(() => (own.state.take(topic, records), true)) ?? false
    note()
    return isTaken
  }

  /** What the core throws is a bug, and would be thrown again: the member ends. */
  function guarded<T>(work: () => T): T | undefined {
    try {
      return work()
    } catch (error) {
      lose(error)
      return undefined
    }
  }

  /** Something may wait now: sees to it that it is committed in time. */
  function note(): void {
    if (life === undefined || phase !== 'open') return
    if (life.state.waiting() > 0) waitingSinceMs ??= now()
    if (committing !== undefined) return
    cancelPlan()
    if (life.state.waiting() >= COMMIT_LIMITS.inputs) {
      void commit(life, false)
      return
    }
    const dueMs = Math.min(
      waitingSinceMs === undefined ? Number.POSITIVE_INFINITY : waitingSinceMs + COMMIT_LIMITS.waitMs,
      life.state.nextSaveMs() ?? Number.POSITIVE_INFINITY,
    )
    if (dueMs === Number.POSITIVE_INFINITY) return
    const own = life
    cancelPlan = schedule(Math.max(0, dueMs - now()), () => {
      if (life === own && phase === 'open' && committing === undefined) void commit(own, false)
    })
  }

  function commit(own: Life, all: boolean): Promise<void> {
    cancelPlan()
    waitingSinceMs = undefined
    const startedMs = now()
    const endWatch = schedule(STALL_MS, () =>
      logger.warn({ forMs: now() - startedMs }, 'A transaction is under way for long'),
    )
    const write = async (): Promise<void> => {
      const transaction = guarded(() => own.state.cut(now(), all))
      try {
        if (transaction === undefined) return
        await own.writer.commit(transaction)
        committing = undefined
        note()
      } catch (error) {
        committing = undefined
        fail(own, error)
      } finally {
        endWatch()
        wake()
      }
    }
    return (committing = write())
  }

  function fail(own: Life, err: unknown): void {
    if (life !== own) return
    giveUp()
    if (err instanceof LastingError) {
      lose(err)
      return
    }
    logger.warn({ err }, 'A commit failed; what it held is worked again')
    if (phase !== 'open') return
    phase = 'opening'
    membership.pause(partition)
    void open(false)
  }

  function giveUp(): void {
    endTicks()
    cancelPlan()
    waitingSinceMs = undefined
    void life?.writer.close()
    life = undefined
    wake()
  }

  function lose(error: unknown): void {
    close()
    options.lost(error)
  }

  function resume(): void {
    if (life === undefined || phase !== 'open') return
    const place = life.state.place()
    membership.resumeAt(partition, new Map([...topics].map(([name, topic]) => [name, place[topic]])))
  }

  async function finish(): Promise<void> {
    if (phase === 'open') {
      phase = 'finishing'
      await committing
      if (life !== undefined) await commit(life, true)
    }
    close()
  }

  function close(): void {
    phase = 'closed'
    giveUp()
  }

  function startTicks(own: Life): void {
    if (settings.ticks === 'event') return
    const isBehind = (): boolean => [...own.ends].some(([topic, end]) => own.state.place()[topic] < end)
    endTicks = startClockTicks({
      now,
      schedule,
      feedsNotLive: () => [],
      feedsMissed: [],
      feeds: [],
      jumped: tellJump(logger),
      tick: ({ time }) => {
        guarded(() => own.state.tick(time, isBehind()))
        note()
      },
    })
  }

  function refused(reason: string): void {
    let told = refusals.get(reason)
    if (told === undefined) {
      told = sparingly(now, messages => logger.warn({ messages, reason }, 'Messages refused'))
      refusals.set(reason, told)
    }
    told()
  }

  function expired(topic: string, messages: number): void {
    logger.error({ topic, messages }, 'Messages expired before they were read')
  }

  function nextCommit(): Promise<void> {
    return new Promise(resolve => {
      wakers.push(resolve)
    })
  }

  function wake(): void {
    const waiting = wakers
    wakers = []
    for (const resume of waiting) resume()
  }

  function breathe(): Promise<void> {
    return pause(0)
  }

  function pause(forMs: number): Promise<void> {
    return new Promise(resolve => {
      schedule(forMs, resolve)
    })
  }
}
