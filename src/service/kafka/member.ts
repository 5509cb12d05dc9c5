import type { Group, Membership, PartitionLog } from '../../adapters/kafka/partitionLog.js'
import { inputTopics } from './partitionState.js'
import { createPartitionWorker, type PartitionWorker, type WorkerOptions } from './partitionWorker.js'

export interface MemberOptions<S> extends Omit<WorkerOptions<S>, 'partition' | 'membership' | 'opened' | 'lost'> {
  readonly log: PartitionLog
  readonly group: Group
}

export interface Member {
  /** Commits what was taken, saves every state, leaves the group. May be called again. */
  readonly leave: () => Promise<void>
  /** Resolves when the member has ended: 0 after `leave`, 1 where it could not go on. */
  readonly ended: Promise<number>
}

/** Joins the group and works the partitions it deals us, each by a worker of its own. */
export async function startMember<S>(options: MemberOptions<S>): Promise<Member> {
  const { logger, settings } = options
  const workers = new Map<number, PartitionWorker>()
  const opening = new Set<number>()
  let isStarted = false
  let leaving: Promise<void> | undefined
  let end: (code: number) => void = () => {}
  const ended = new Promise<number>(resolve => {
    end = resolve
  })

  const topics = inputTopics(settings).map(([, name]) => name)
  const membership = await options.group.join(topics, {
    assigned: (partitions, membership) => {
      if (leaving !== undefined) return
      logger.info({ partitions }, 'Partitions dealt')
      for (const [partition, worker] of workers) if (!partitions.includes(partition)) drop(partition, worker)
      for (const partition of partitions) {
        const known = workers.get(partition)
        if (known === undefined) workers.set(partition, open(partition, membership))
        else known.resume()
      }
      tellStarted()
    },
    batch: async (batch, beat) => (await workers.get(batch.partition)?.batch(batch, beat)) ?? false,
    ended: lose,
  })
  return { leave: () => leave(membership, 0), ended }

  function open(partition: number, membership: Membership): PartitionWorker {
    opening.add(partition)
    const opened = (): void => {
      opening.delete(partition)
      tellStarted()
    }
    return createPartitionWorker({ ...options, partition, membership, opened, lost: error => lose(error, membership) })
  }

  function drop(partition: number, worker: PartitionWorker): void {
    worker.close()
    workers.delete(partition)
    opening.delete(partition)
  }

  function tellStarted(): void {
    if (isStarted || opening.size > 0) return
    isStarted = true
    logger.info({ group: settings.group, partitions: [...workers.keys()] }, 'Member started')
  }

  function lose(err: unknown, membership: Membership): void {
    if (leaving !== undefined) return
    logger.fatal({ err }, 'The member cannot go on')
    void leave(membership, 1)
  }

  function leave(membership: Membership, code: number): Promise<void> {
    leaving ??= (async () => {
      membership.quiesce()
      if (code === 0) await Promise.all([...workers.values()].map(worker => worker.finish()))
      for (const worker of workers.values()) worker.close()
      await membership.leave()
      logger.info({ code }, 'Member ended')
      end(code)
    })()
    return leaving
  }
}
