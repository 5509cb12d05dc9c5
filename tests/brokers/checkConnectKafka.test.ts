import { readFileSync } from 'node:fs'
import { AclOperationTypes, AclPermissionTypes, AclResourceTypes, type Admin, ResourcePatternTypes } from 'kafkajs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { checkKafka } from '../../src/adapters/connectCheck/checkKafka.js'
import type { KafkaConnection } from '../../src/adapters/connectionsFile.js'
import { secretOf } from '../../src/adapters/secret.js'
import { createLog } from '../../src/service/log.js'
import { eventually } from '../support/eventually.js'
import { hasKafka, type KafkaSecurity, type KafkaServers, startKafka } from '../support/servers/kafka.js'

const TOPICS = {
  in: 'turbidrift.in',
  events: 'turbidrift.events',
  changelog: 'turbidrift.changelog',
  deadLetters: 'turbidrift.dead-letters',
  rekeyed: 'turbidrift.in.rekeyed',
}

describe.skipIf(!hasKafka())('check of Kafka behind TLS, passwords and access rules', () => {
  let servers: KafkaServers
  let secure: KafkaSecurity
  let admin: Admin
  beforeAll(async () => {
    servers = await startKafka({ secure: true })
    secure = servers.secure!
    admin = servers.client().admin()
    await admin.connect()
  }, 120_000)
  afterAll(async () => {
    await admin.disconnect()
    await servers.stop()
  })

  it('names the topics that are missing, then finds nothing wrong and writes nothing', async () => {
    const missing = await check(good())
    expect(missing.wrong).toHaveLength(4)
    expect(missing.wrong[0]).toMatch(/^topic turbidrift\.in is missing: create it/)
    await servers.createTopics([
      ...[TOPICS.in, TOPICS.events, TOPICS.deadLetters].map(topic => ({ topic, partitions: 2 })),
      { topic: TOPICS.changelog, partitions: 2, settings: { 'cleanup.policy': 'compact' } },
    ])
    const found = await check(good())
    expect(found.all).toEqual([
      `ok: logged in at ${servers.bootstrap.join(', ')} as service`,
      'ok: the topics are there, turbidrift.in with 2 partitions',
      'ok: the rights are there to read as group turbidrift and to write to turbidrift.changelog, turbidrift.events, turbidrift.dead-letters',
    ])
    for (const topic of [TOPICS.changelog, TOPICS.events, TOPICS.deadLetters])
      expect(await firstOf(topic)).toBe('first')
    const offsets = await admin.fetchOffsets({ groupId: 'turbidrift', topics: [TOPICS.in] })
    expect(offsets[0]!.partitions.map(({ offset }) => offset)).toEqual(['-1', '-1'])
  })

  it('names each right that is missing', async () => {
    const stranger = { ...good(), sasl: login(secure.stranger.user, secure.stranger.password) }
    const none = await check(stranger)
    expect(none.wrong).toHaveLength(4)
    for (const topic of [TOPICS.in, TOPICS.changelog, TOPICS.events, TOPICS.deadLetters]) {
      expect(none.wrong.join('\n')).toContain(`topic ${topic}: no permission on a topic`)
    }
    const { TOPIC, GROUP, TRANSACTIONAL_ID } = AclResourceTypes
    const { READ, WRITE } = AclOperationTypes
    const rights = [
      right(TOPIC, TOPICS.in, READ),
      right(TOPIC, TOPICS.changelog, READ),
      right(TOPIC, TOPICS.changelog, WRITE),
      right(TOPIC, TOPICS.events, READ),
      right(TOPIC, TOPICS.deadLetters, WRITE),
      right(TRANSACTIONAL_ID, 'turbidrift-', WRITE),
    ]
    await admin.createAcls({ acl: rights })
    const some = await check(stranger)
    expect(some.wrong.map(says => says.replace(/: grant.*/, ''))).toEqual([
      'group turbidrift, reading turbidrift.in: no permission on the consumer group',
      'writing to turbidrift.events: no permission on a topic',
    ])
    await admin.createAcls({ acl: [right(GROUP, 'turbidrift', READ), right(TOPIC, TOPICS.events, WRITE)] })
    expect((await check(stranger)).wrong).toEqual([])
  })

  it('says one thing of each login that cannot work, and no secret', async () => {
    const { tls: _, ...clear } = good()
    const tries: readonly (readonly [KafkaConnection, RegExp])[] = [
      [{ ...good(), sasl: login(secure.user, 'not-the-password') }, /sasl\.password/],
      [{ ...good(), tls: { ca: readFileSync(secure.otherCa, 'utf8') } }, /authority/],
      [{ ...good(), brokers: [secure.expired] }, /has expired/],
      [clear, /tls/i],
      [{ ...good(), brokers: ['127.0.0.1:1'] }, /listens/],
    ]
    for (const [connection, expected] of tries) {
      const { all, wrong } = await check(connection)
      expect(all).toHaveLength(1)
      expect(wrong[0]).toMatch(expected)
      for (const secret of [secure.password, 'not-the-password']) expect(wrong[0]).not.toContain(secret)
    }
  })

  function good(): KafkaConnection {
    return {
      brokers: servers.bootstrap,
      clientId: 'turbidrift',
      group: 'turbidrift',
      sasl: login(secure.user, secure.password),
      tls: { ca: readFileSync(secure.ca, 'utf8') },
      topics: TOPICS,
      sessionS: 30,
      kinds: ['reading'],
      keys: 'refuse',
    }
  }

  /** Value of the first record a reader of uncommitted records gets, after one is written. */
  async function firstOf(topic: string): Promise<string | undefined> {
    const producer = servers.client().producer()
    await producer.connect()
    await producer.send({
      topic,
      messages: [0, 1].map(partition => ({ key: String(partition), partition, value: 'first' })),
    })
    await producer.disconnect()
    const consumer = servers.client().consumer({ groupId: `look-${topic}`, readUncommitted: true })
    const values: (string | undefined)[] = []
    await consumer.connect()
    await consumer.subscribe({ topic, fromBeginning: true })
    await consumer.run({ eachMessage: async ({ message }) => void values.push(message.value?.toString()) })
    await eventually('both partitions are read', () => values.filter(value => value === 'first').length === 2)
    await consumer.disconnect()
    return values.find(value => value !== 'first') ?? values[0]
  }

  function right(resourceType: AclResourceTypes, resourceName: string, operation: AclOperationTypes) {
    return {
      resourceType,
      resourceName,
      resourcePatternType: ResourcePatternTypes.PREFIXED,
      principal: `User:${secure.stranger.user}`,
      host: '*',
      operation,
      permissionType: AclPermissionTypes.ALLOW,
    }
  }
})

function login(username: string, password: string) {
  return { mechanism: 'scram-sha-512', username, password: secretOf(password) } as const
}

async function check(connection: KafkaConnection) {
  const found = await checkKafka(connection, createLog('silent'))
  return {
    all: found.map(({ state, says }) => `${state}: ${says}`),
    wrong: found.filter(({ state }) => state === 'wrong').map(({ says }) => says),
  }
}
