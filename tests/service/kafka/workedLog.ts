import pino from 'pino'
import type { LogRecord, PartitionLog } from '../../../src/adapters/kafka/partitionLog.js'
import type { RegisterFile } from '../../../src/model/register.js'
import type { MemberSettings } from '../../../src/service/kafka/memberSettings.js'
import { createPartitionWorker, type PartitionWorker } from '../../../src/service/kafka/partitionWorker.js'
import { plantDirectory } from '../../../src/service/kafka/plantOfRecord.js'
import type { Core } from '../../../src/service/plantRunner.js'
import { fakeRegisterMessage } from '../fakeCore.js'
import { memoryLog } from './memoryLog.js'

export const TOPICS = {
  in: 'in',
  events: 'events',
  changelog: 'changelog',
  deadLetters: 'dead',
  rekeyed: 'rekeyed',
} as const

export interface WorkedLogOptions<S> {
  readonly core: Core<S>
  readonly files: readonly RegisterFile[]
  readonly partitions: number
  readonly keys: 'refuse' | 'rekey'
  readonly ticks: 'clock' | 'event'
}

/** One process's hold on a partition. A former owner may go on for a while: it does not know yet. */
interface Owner extends Hold {
  readonly worker: PartitionWorker
}

interface Hold {
  readonly cursor: Map<string, number>
  isPaused: boolean
  isDead: boolean
}

/** A log in memory with a worker on each partition, and a clock that stands until it is moved. */
export function workedLog<S>(options: WorkedLogOptions<S>) {
  const { partitions, keys, ticks } = options
  const log = memoryLog({ in: partitions, rekeyed: partitions, changelog: partitions, events: 2, dead: 1 })
  const settings: MemberSettings = {
    group: 'g',
    topics: TOPICS,
    kinds: ['reading'],
    keys,
    partitions,
    ticks,
    prefix: 'turbidrift',
    softwareVersion: '0.0.0',
  }
  const clock = testClock()
  const lost: unknown[] = []
  const owners = new Map<number, Owner[]>()

  const open = (partition: number): Owner => {
    const hold: Hold = { cursor: new Map(), isPaused: true, isDead: false }
    const worker = createPartitionWorker({
      ...options,
      partition,
      log: livingLog(log, () => hold.isDead),
      membership: {
        pause: () => (hold.isPaused = true),
        resumeAt: (_partition, offsets) => {
          for (const [topic, offset] of offsets) hold.cursor.set(topic, offset)
          hold.isPaused = false
        },
        confirm: async () => {
          if (owners.get(partition)?.at(-1) !== owner) throw new Error('not a member any more')
        },
      },
      registerMessage: fakeRegisterMessage,
      settings,
      directory: plantDirectory(options.files, partitions),
      logger: pino({ level: 'silent' }),
      now: clock.now,
      schedule: clock.scheduleFor(() => hold.isDead),
      opened: () => {},
      lost: error => lost.push(error),
    })
    const owner: Owner = Object.assign(hold, { worker })
    return owner
  }
  const ownersOf = (partition: number): Owner[] => owners.get(partition) ?? []
  const deliver = async (owner: Owner, topic: string, partition: number, count: number): Promise<void> => {
    const from = owner.cursor.get(topic)
    if (owner.isDead || owner.isPaused || from === undefined) return
    const { end } = await log.bounds(topic, partition)
    const next = Math.min(end, from + count)
    if (next <= from) return
    const records: LogRecord[] = []
    await log.read(topic, partition, { from, to: next }, some => void records.push(...some)).catch(() => {})
    if (records.length === 0) {
      // Nothing but markers: the client steps over them without a word.
      owner.cursor.set(topic, next)
      return
    }
    const batch = { topic, partition, first: from, next, end, records }
    void owner.worker
      .batch(batch, async () => {})
      .then(isTaken => {
        if (isTaken && owner.cursor.get(topic) === from) owner.cursor.set(topic, next)
      })
  }

  return {
    log,
    lost,
    clock,
    /** Gives the partition to a new process; the old one stays, and believes the partition to be its own. */
    takeOver: (partition: number): void => {
      owners.set(partition, [...ownersOf(partition), open(partition)])
    },
    kill: (partition: number): void => {
      for (const owner of ownersOf(partition)) owner.isDead = true
    },
    leave: async (partition: number): Promise<void> => {
      const owner = ownersOf(partition).at(-1)
      if (owner === undefined || owner.isDead) return
      void owner.worker.finish()
      await clock.settle()
      // Whoever does not get to the end of it is killed.
      owner.isDead = true
    },
    /** @param which 0 the rightful owner, 1 the one before … */
    deliver: async (which: number, topic: string, partition: number, count: number): Promise<void> => {
      const owner = ownersOf(partition).at(-1 - which)
      if (owner !== undefined) await deliver(owner, topic, partition, count)
      await clock.settle()
    },
    /** The client delivers again from what the group committed, as it does when a group is dealt anew. */
    rewind: (partition: number): void => {
      for (const topic of [TOPICS.in, TOPICS.rekeyed]) {
        ownersOf(partition)
          .at(-1)
          ?.cursor.set(topic, log.committed(topic, partition) ?? 0)
      }
    },
    /** The client steps over some offsets by itself. */
    skip: (partition: number, count: number): void => {
      const cursor = ownersOf(partition).at(-1)?.cursor
      const at = cursor?.get(TOPICS.in)
      if (at !== undefined) cursor?.set(TOPICS.in, at + count)
    },
    isPaused: (partition: number): boolean => ownersOf(partition).at(-1)?.isPaused ?? true,
  }
}

/** A killed process says and hears nothing more. */
function livingLog(log: PartitionLog, isDead: () => boolean): PartitionLog {
  const alive = async <T>(work: () => Promise<T>): Promise<T> => {
    if (isDead()) return new Promise<T>(() => {})
    const result = await work()
    return isDead() ? new Promise<T>(() => {}) : result
  }
  return {
    openWriter: id =>
      alive(async () => {
        const writer = await log.openWriter(id)
        return { ...writer, commit: transaction => alive(() => writer.commit(transaction)) }
      }),
    read: (topic, partition, range, take) => alive(() => log.read(topic, partition, range, take)),
    bounds: (topic, partition) => alive(() => log.bounds(topic, partition)),
    committedOffset: (group, topic, partition) => alive(() => log.committedOffset(group, topic, partition)),
  }
}

/** Time that moves when it is told to; what is due at once runs as soon as the promises at hand are through. */
function testClock() {
  const startMs = Date.UTC(2026, 3, 1)
  let nowMs = startMs
  let timers: { readonly atMs: number; readonly run: () => void }[] = []
  const settle = async (): Promise<void> => {
    for (let turn = 0; turn < 3; turn++) await new Promise(setImmediate)
  }
  return {
    now: () => nowMs,
    settle,
    scheduleFor:
      (isDead: () => boolean) =>
      (afterMs: number, run: () => void): (() => void) => {
        const guarded = (): void => {
          if (!isDead()) run()
        }
        if (afterMs <= 0) {
          let isCancelled = false
          queueMicrotask(() => {
            if (!isCancelled) guarded()
          })
          return () => (isCancelled = true)
        }
        const timer = { atMs: nowMs + afterMs, run: guarded }
        timers.push(timer)
        return () => {
          timers = timers.filter(other => other !== timer)
        }
      },
    advance: async (byMs: number): Promise<void> => {
      const untilMs = nowMs + byMs
      await settle()
      for (;;) {
        const next = timers.reduce<(typeof timers)[number] | undefined>(
          (first, timer) => (timer.atMs <= untilMs && (first === undefined || timer.atMs < first.atMs) ? timer : first),
          undefined,
        )
        if (next === undefined) break
        timers = timers.filter(timer => timer !== next)
        nowMs = Math.max(nowMs, next.atMs)
        next.run()
        await settle()
      }
      nowMs = untilMs
    },
  }
}
