import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { type Admin, AssignerProtocol } from 'kafkajs'
import { onTestFinished } from 'vitest'
import type { KafkaServers } from '../support/servers/kafka.js'

/** One run of members over topics of its own, within a test. */
export interface KafkaRun {
  readonly connectionsPath: string
  /** What stands under `kafka` there. */
  readonly connection: Readonly<Record<string, unknown>>
  readonly topics: Readonly<Record<'in' | 'events' | 'changelog' | 'deadLetters', string>>
  readonly partitions: number
  /** How many input messages the group has committed, as last heard of the brokers. */
  readonly taken: () => Promise<number>
  /** Whether everything on the input topic is known to be committed. */
  readonly allTaken: () => Promise<boolean>
  /** How many members hold partitions now; 0 while the brokers cannot say. */
  readonly working: () => Promise<number>
}

export async function prepareRun(
  servers: KafkaServers,
  folder: string,
  name: string,
  partitions: number,
): Promise<KafkaRun> {
  const topics = {
    in: `${name}.in`,
    events: `${name}.events`,
    changelog: `${name}.changelog`,
    deadLetters: `${name}.dead-letters`,
  }
  await servers.createTopics([
    { topic: topics.in, partitions },
    { topic: topics.events, partitions },
    { topic: topics.changelog, partitions, settings: { 'cleanup.policy': 'compact' } },
    { topic: topics.deadLetters, partitions },
  ])
  const kinds = ['reading', 'grab', 'work', 'process', 'laboratory_check']
  const connection = { brokers: servers.bootstrap, group: name, topics, kinds, sessionS: 6, ...login(servers, folder) }
  const connectionsPath = join(folder, `${name}.connections.yaml`)
  writeFileSync(connectionsPath, JSON.stringify({ kafka: connection }))
  let heard = 0
  let admin: Promise<Admin> | undefined
  const drop = () => {
    void admin?.then(used => used.disconnect()).catch(() => {})
    admin = undefined
  }
  onTestFinished(drop)
  /** A client that failed, or does not answer, is not asked again: what it knows of brokers may be of before. */
  const asked = async <T>(ask: (admin: Admin) => Promise<T>): Promise<T> => {
    const used = (admin ??= connectAdmin(servers))
    try {
      return await Promise.race([used.then(ask), noAnswer()])
    } catch (error) {
      if (admin === used) drop()
      throw error
    }
  }
  return {
    connectionsPath,
    connection,
    topics,
    partitions,
    taken: async () => {
      try {
        const offsets = await asked(admin => committedOffsets(admin, name, topics.in))
        heard = [...offsets.values()].reduce((sum, offset) => sum + offset, 0)
      } catch {
        // Brokers are away: the test is about that.
      }
      return heard
    },
    allTaken: () =>
      asked(async admin => {
        const ends = await admin.fetchTopicOffsets(topics.in)
        const taken = await committedOffsets(admin, name, topics.in)
        return ends.every(({ partition, high }) => (taken.get(partition) ?? 0) === Number(high))
      }).catch(() => false),
    working: () => asked(admin => membersWithPartitions(admin, name, topics.in)).catch(() => 0),
  }
}

async function connectAdmin(servers: KafkaServers): Promise<Admin> {
  const admin = servers.client({ retry: { retries: 2 } }).admin()
  await admin.connect()
  return admin
}

async function noAnswer(): Promise<never> {
  await wait(10_000, undefined, { ref: false })
  throw new Error('no answer from the brokers')
}

function login({ secure }: KafkaServers, folder: string): Readonly<Record<string, unknown>> {
  if (secure === undefined) return {}
  const file = join(folder, 'kafka-password')
  writeFileSync(file, secure.password, { mode: 0o600 })
  return {
    tls: { ca: secure.ca },
    sasl: { mechanism: 'scram-sha-512', username: secure.user, password: { file } },
  }
}

/** Numbers of messages committed, by partition. */
async function committedOffsets(admin: Admin, groupId: string, topic: string): Promise<ReadonlyMap<number, number>> {
  const [told] = await admin.fetchOffsets({ groupId, topics: [topic] })
  return new Map(told!.partitions.map(({ partition, offset }) => [partition, Math.max(0, Number(offset))]))
}

async function membersWithPartitions(admin: Admin, group: string, topic: string): Promise<number> {
  const { groups } = await admin.describeGroups([group])
  const assigned = groups[0]!.members.map(
    ({ memberAssignment }) => AssignerProtocol.MemberAssignment.decode(memberAssignment)?.assignment[topic] ?? [],
  )
  return assigned.filter(partitions => partitions.length > 0).length
}
