import { randomUUID } from 'node:crypto'
import { setTimeout as wait } from 'node:timers/promises'
import kafkajs, { type Admin, type Kafka, type Transaction } from 'kafkajs'
import type { Logger } from 'pino'
import type { KafkaConnection } from '../connectionsFile.js'
import { kafkaClient } from '../kafka/kafkaClient.js'
import { sayKafkaError } from '../kafka/kafkaErrors.js'
import { tryToWrite, writtenTopics } from '../kafka/rights.js'
import { checkTopics } from '../kafka/topics.js'
import { type ConnectFinding, type Findings, findingsOf } from './finding.js'

const COORDINATOR_TRIES = 5
const COORDINATOR_PAUSE_MS = 1_000
const FEW_TRIES = { initialRetryTime: 100, maxRetryTime: 1_000, retries: 3 }

/** Tries login, rights and topics of the brokers. Writes nothing that anybody can read. */
export async function checkKafka(connection: KafkaConnection, log: Logger): Promise<readonly ConnectFinding[]> {
  const findings = findingsOf('kafka')
  const { brokers, sasl, topics } = connection
  const say = (error: unknown) => sayKafkaError(error, connection.tls !== undefined)
  const kafka = kafkaClient(connection, log)
  const admin = kafka.admin({ retry: FEW_TRIES })
  try {
    await admin.connect()
    findings.ok(`logged in at ${brokers.join(', ')}${sasl === undefined ? '' : ` as ${sasl.username}`}`)
    const written = writtenTopics(connection)
    if (!(await seesTopics(admin, [topics.in, ...written], say, findings))) return findings.found
    const checked = await checkTopics(kafka, connection, undefined)
    if (!checked.ok) {
      for (const problem of checked.problems) findings.wrong(problem)
      return findings.found
    }
    for (const warning of checked.warnings) findings.warn(warning)
    findings.ok(`the topics are there, ${topics.in} with ${String(checked.partitions)} partitions`)
    await checkRights(kafka, connection, written, say, findings)
  } catch (error) {
    findings.wrong(`${brokers.join(', ')}: ${say(error)}`)
  } finally {
    await admin.disconnect().catch(() => {})
  }
  return findings.found
}

/** Brokers hide topics from those who may not see them: without this they would be called missing. */
async function seesTopics(
  admin: Admin,
  topics: readonly string[],
  say: (error: unknown) => string,
  findings: Findings,
): Promise<boolean> {
  let sees = true
  for (const topic of topics) {
    try {
      await admin.fetchTopicMetadata({ topics: [topic] })
    } catch (error) {
      if (!isRefusal(error)) continue
      findings.wrong(`topic ${topic}: ${say(error)}`)
      sees = false
    }
  }
  return sees
}

function isRefusal(error: unknown): boolean {
  return String((error as { type?: unknown }).type).endsWith('_AUTHORIZATION_FAILED')
}

/** The rights of a member, each tried in a transaction that is taken back. */
async function checkRights(
  kafka: Kafka,
  { group, topics }: KafkaConnection,
  written: readonly string[],
  say: (error: unknown) => string,
  findings: Findings,
): Promise<void> {
  const place = { topic: topics.in, partitions: [{ partition: 0, offset: '0' }] }
  const rights = [
    {
      what: `group ${group}, reading ${topics.in}`,
      use: (transaction: Transaction) => transaction.sendOffsets({ consumerGroupId: group, topics: [place] }),
    },
    ...written.map(topic => ({
      what: `writing to ${topic}`,
      use: (transaction: Transaction) => tryToWrite(transaction, topic),
    })),
  ]
  const errors = await Promise.all(rights.map(({ use }) => settled(() => takenBack(kafka, group, use))))
  for (const [index, { what }] of rights.entries()) {
    if (errors[index] !== undefined) findings.wrong(`${what}: ${say(errors[index])}`)
  }
  if (errors.every(error => error === undefined)) {
    findings.ok(`the rights are there to read as group ${group} and to write to ${written.join(', ')}`)
  }
}

/** Once more where no right is refused: coordinators of a cluster take seconds to be found when they are first used. */
async function settled(attempt: () => Promise<unknown>): Promise<unknown> {
  let error = await attempt()
  for (let again = 0; again < COORDINATOR_TRIES && error !== undefined && !isRefusal(error); again++) {
    await wait(COORDINATOR_PAUSE_MS)
    error = await attempt()
  }
  return error
}

/** What was thrown where a right is missing; undefined where it is there. */
async function takenBack(
  kafka: Kafka,
  group: string,
  use: (transaction: Transaction) => Promise<unknown>,
): Promise<unknown> {
  const producer = kafka.producer({
    transactionalId: `${group}-check-${randomUUID().slice(0, 8)}`,
    idempotent: true,
    maxInFlightRequests: 1,
    createPartitioner: kafkajs.Partitioners.DefaultPartitioner,
    retry: FEW_TRIES,
  })
  try {
    await producer.connect()
    const transaction = await producer.transaction()
    try {
      await use(transaction)
    } finally {
      await transaction.abort()
    }
    return undefined
  } catch (error) {
    return error
  } finally {
    await producer.disconnect().catch(() => {})
  }
}
