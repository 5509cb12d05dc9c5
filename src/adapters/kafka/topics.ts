import kafkajs, { type Admin, type Kafka } from 'kafkajs'
import type { KafkaConnection } from '../connectionsFile.js'
import { sayKafkaError, typesOf } from './kafkaErrors.js'
import { REQUEST_BYTES } from './produceRequests.js'

export type CheckedTopics =
  | { readonly ok: true; readonly partitions: number; readonly warnings: readonly string[] }
  | { readonly ok: false; readonly problems: readonly string[] }

/** Segments of the changelog are compacted once they are closed, and each start reads all that is not. */
const CHANGELOG_SETTINGS = [
  { name: 'cleanup.policy', value: 'compact' },
  { name: 'segment.bytes', value: '67108864' },
  { name: 'min.cleanable.dirty.ratio', value: '0.2' },
]

/**
 * Looks whether the topics of a connection are there and can be worked with. Everything wrong is told at once, as what
 * is to be created or changed.
 * @param create make the topics that are missing, the input with so many partitions
 */
export async function checkTopics(
  kafka: Kafka,
  connection: KafkaConnection,
  create: number | undefined,
): Promise<CheckedTopics> {
  const admin = kafka.admin({ retry: { retries: 2 } })
  const say = (error: unknown): string => sayKafkaError(error, connection.tls !== undefined)
  try {
    await admin.connect()
    const wanted = wantedTopics(connection)
    const there = await partitionsOf(
      admin,
      wanted.map(({ topic }) => topic),
    )
    const missing = wanted.filter(({ topic }) => !there.has(topic))
    const inputPartitions = there.get(connection.topics.in)
    if (missing.length > 0 && create === undefined) {
      return { ok: false, problems: missing.map(topic => sayMissing(topic, inputPartitions)) }
    }
    // What goes beside an input that is there has its number of partitions.
    if (missing.length > 0) await createTopics(admin, missing, inputPartitions ?? create!)
    return await checkSettings(admin, wanted, say)
  } catch (error) {
    return { ok: false, problems: [`Kafka at ${connection.brokers.join(', ')}: ${say(error)}`] }
  } finally {
    await admin.disconnect().catch(() => {})
  }
}

interface WantedTopic {
  readonly topic: string
  /** As many partitions as the input has; any number where false. */
  readonly isParallel: boolean
  readonly isChangelog: boolean
  readonly isWritten: boolean
}

function wantedTopics({ topics, keys }: KafkaConnection): readonly WantedTopic[] {
  const input = { topic: topics.in, isParallel: true, isChangelog: false, isWritten: false }
  const rekeyed = { topic: topics.rekeyed, isParallel: true, isChangelog: false, isWritten: true }
  return [
    input,
    ...(keys === 'rekey' ? [rekeyed] : []),
    { topic: topics.changelog, isParallel: true, isChangelog: true, isWritten: true },
    { topic: topics.events, isParallel: false, isChangelog: false, isWritten: true },
    { topic: topics.deadLetters, isParallel: false, isChangelog: false, isWritten: true },
  ]
}

function sayMissing({ topic, isParallel, isChangelog }: WantedTopic, partitions: number | undefined): string {
  const count = partitions === undefined ? 'as many partitions as the input' : `${String(partitions)} partitions`
  const parts = [isParallel ? count : '', isChangelog ? 'cleanup.policy=compact' : ''].filter(part => part !== '')
  const wants = parts.length === 0 ? '' : ` with ${parts.join(' and ')}`
  return `topic ${topic} is missing: create it${wants}, or start once with --create-topics`
}

async function createTopics(admin: Admin, missing: readonly WantedTopic[], partitions: number): Promise<void> {
  await admin.createTopics({
    // With several brokers the client can fail to wait for topics that are made.
    waitForLeaders: false,
    topics: missing.map(({ topic, isChangelog }) => ({
      topic,
      numPartitions: partitions,
      // The brokers' own default.
      replicationFactor: -1,
      ...(isChangelog ? { configEntries: CHANGELOG_SETTINGS } : {}),
    })),
  })
  const names = missing.map(({ topic }) => topic)
  for (let attempt = 0; attempt < LEADER_ATTEMPTS; attempt++) {
    const made = await partitionsOf(admin, names).catch(() => new Map<string, number>())
    if (names.every(name => made.get(name) === partitions)) return
    await new Promise(resolve => {
      setTimeout(resolve, LEADER_PAUSE_MS)
    })
  }
}

const LEADER_ATTEMPTS = 50
const LEADER_PAUSE_MS = 200

/**
 * Numbers of partitions of the topics that are there. Each is asked for by its name: a broker leaves out of its list
 * what we have no permission to see.
 */
async function partitionsOf(admin: Admin, topics: readonly string[]): Promise<ReadonlyMap<string, number>> {
  const counts = new Map<string, number>()
  for (const topic of topics) {
    try {
      const told = await admin.fetchTopicMetadata({ topics: [topic] })
      counts.set(topic, told.topics[0]!.partitions.length)
    } catch (error) {
      if (!typesOf(error).includes('UNKNOWN_TOPIC_OR_PARTITION')) throw error
    }
  }
  return counts
}

async function checkSettings(
  admin: Admin,
  wanted: readonly WantedTopic[],
  say: (error: unknown) => string,
): Promise<CheckedTopics> {
  const counts = await partitionsOf(
    admin,
    wanted.map(({ topic }) => topic),
  )
  const input = wanted[0]!.topic
  const partitions = counts.get(input)!
  const problems = wanted
    .filter(({ topic, isParallel }) => isParallel && counts.get(topic) !== partitions)
    .map(
      ({ topic }) =>
        `topic ${topic} has ${String(counts.get(topic))} partitions; it must have the ${String(partitions)} of ${input}: create it anew`,
    )
  const warnings: string[] = []
  try {
    for (const { topic, isChangelog, isWritten } of wanted) {
      const settings = await settingsOf(admin, topic)
      const policy = settings.get('cleanup.policy')
      if (isChangelog && policy !== 'compact') {
        problems.push(
          `topic ${topic} has cleanup.policy=${String(policy)}; the state needs cleanup.policy=compact alone`,
        )
      }
      const most = Number(settings.get('max.message.bytes'))
      if (isWritten && most < LEAST_MESSAGE_BYTES) {
        problems.push(
          `topic ${topic} has max.message.bytes=${String(most)}; set it to ${String(LEAST_MESSAGE_BYTES)} or more`,
        )
      }
    }
  } catch (error) {
    warnings.push(`the settings of the topics cannot be read (${say(error)}): see that the changelog is compacted`)
  }
  return problems.length > 0 ? { ok: false, problems } : { ok: true, partitions, warnings }
}

/** What is written at once, and what goes around it. */
const LEAST_MESSAGE_BYTES = REQUEST_BYTES + 100_000

async function settingsOf(admin: Admin, topic: string): Promise<ReadonlyMap<string, string>> {
  const configNames = ['cleanup.policy', 'max.message.bytes']
  const told = await admin.describeConfigs({
    includeSynonyms: false,
    resources: [{ type: kafkajs.ConfigResourceTypes.TOPIC, name: topic, configNames }],
  })
  const entries = told.resources[0]?.configEntries ?? []
  return new Map(entries.map(({ configName, configValue }) => [configName, configValue]))
}
