import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Kafka, Partitioners } from 'kafkajs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { keyPartition } from '../../src/adapters/kafka/keyPartition.js'
import { formatInstant } from '../../src/model/time.js'
import { build } from '../faults/built.js'
import { readCommitted } from '../faults/kafkaRecords.js'
import { eventually } from '../support/eventually.js'
import { hasKafka, type KafkaServers, startKafka } from '../support/servers/kafka.js'
import { runTurbidrift } from './kafkaProcess.js'

const PARTITIONS = 2
const PLANTS = ['hollin-weir', 'upper-weir', 'lower-weir']

describe.skipIf(!hasKafka())('a member of the group', () => {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-member-'))
  const registers = PLANTS.map((plant, index) => {
    const path = join(folder, `${plant}.yaml`)
    writeFileSync(
      path,
      JSON.stringify({
        plant,
        points: { [`P${String(index)}`]: { analyzers: { [analyzerOf(plant)]: { unit: 'NTU' } } } },
      }),
    )
    return path
  })
  let servers: KafkaServers
  let client: Kafka
  beforeAll(async () => {
    build()
    servers = await startKafka()
    client = servers.client()
  }, 180_000)
  afterAll(async () => {
    await servers.stop()
    rmSync(folder, { recursive: true })
  })

  it('says which topics are missing, and makes them when it is asked to', async () => {
    const { topics, serve } = prepare('made')
    const refused = serve()
    expect(await refused.ended()).toBe(1)
    expect(refused.said).toHaveLength(4)
    expect(refused.said[1]).toContain(
      `topic ${topics.changelog} is missing: create it with as many partitions as the input and cleanup.policy=compact`,
    )
    const member = serve('--create-topics', String(PARTITIONS))
    await member.says('Member started')
    expect(await member.end('SIGTERM')).toBe(0)
    const again = serve()
    await again.says('Member started')
    expect(await again.end('SIGTERM')).toBe(0)
  })

  it('refuses a changelog that would lose the state', async () => {
    const { topics, serve } = prepare('unfit')
    await servers.createTopics([
      { topic: topics.in, partitions: PARTITIONS },
      { topic: topics.changelog, partitions: 1, settings: { 'max.message.bytes': '2000' } },
      { topic: topics.events, partitions: 1 },
      { topic: topics.deadLetters, partitions: 1 },
    ])
    const refused = serve()
    expect(await refused.ended()).toBe(1)
    expect(refused.said.join('\n')).toMatch(/has 1 partitions; it must have the 2 of/)
    expect(refused.said.join('\n')).toMatch(/cleanup\.policy=delete; the state needs cleanup\.policy=compact alone/)
    expect(refused.said.join('\n')).toMatch(/max\.message\.bytes=2000; set it to 1000000 or more/)
  })

  it('puts aside what it cannot take, with the place where it stood, and takes all else', async () => {
    const { topics, serve } = prepare('letters')
    const member = serve('--create-topics', String(PARTITIONS))
    await member.says('Member started')
    const right = keyPartition('hollin-weir', PARTITIONS)
    await send(topics.in, [
      { key: 'hollin-weir', value: reading('hollin-weir', 0) },
      { key: 'gateway', value: reading('hollin-weir', 1) },
      { key: 'hollin-weir', value: reading('hollin-weir', 2), partition: 1 - right },
      { key: 'hollin-weir', value: '{"kind":"work"}' },
      { key: 'hollin-weir', value: 'x'.repeat(70_000) },
      { key: 'upper-weir', value: reading('nobody', 0) },
    ])
    await taken(topics.in, 'letters', 6)
    expect(await member.end('SIGTERM')).toBe(0)
    const letters = (await readCommitted(client, topics.deadLetters, PARTITIONS)).map(
      text => JSON.parse(text) as { reason: string; position: string; excerpt: string; feed: string },
    )
    expect(letters.map(({ reason }) => reason).sort()).toEqual(
      ['key_is_no_plant', 'kind_not_allowed', 'partition_of_another_key', 'too_large', 'unknown_analyzer'].sort(),
    )
    for (const { position, feed, excerpt } of letters) {
      expect(position).toMatch(/^letters\.in\/[01]@\d$/)
      expect(feed).toBe('kafka')
      expect(excerpt.length).toBeGreaterThan(0)
    }
    const events = (await readCommitted(client, topics.events, PARTITIONS)).map(
      text => JSON.parse(text) as { type: string },
    )
    expect(events.filter(({ type }) => type === 'turbidrift.message.rejected')).toHaveLength(3)
  })

  it('keys again what names a point or an analyzer of one plant, where it is told to', async () => {
    const { topics, serve } = prepare('rekey', { keys: 'rekey' })
    const member = serve('--create-topics', String(PARTITIONS))
    await member.says('Member started')
    await send(
      topics.in,
      PLANTS.flatMap(plant => [0, 1, 2].map(n => ({ key: 'gateway', value: reading(plant, n) }))),
    )
    await taken(topics.in, 'rekey', 9)
    await taken(topics.rekeyed, 'rekey', 9)
    expect(await member.end('SIGTERM')).toBe(0)
    expect(await readCommitted(client, topics.deadLetters, PARTITIONS)).toEqual([])
    const rekeyed = await readCommitted(client, topics.rekeyed, PARTITIONS)
    expect([...rekeyed].sort()).toEqual(PLANTS.flatMap(plant => [0, 1, 2].map(n => reading(plant, n))).sort())
  })

  it('goes on after a kill where it was, with the ticks of its clock', async () => {
    const { topics, serve } = prepare('clock')
    const member = serve('--ticks', 'clock', '--create-topics', String(PARTITIONS))
    await member.says('Member started')
    // Long enough ago that the first tick closes their block.
    const sentMs = Date.now() - 40 * 60_000
    const count = 30
    const messages = Array.from({ length: count }, (_, n) => ({
      key: 'hollin-weir',
      value: reading('hollin-weir', 0, sentMs - n * 1_000),
    }))
    await send(topics.in, messages)
    await taken(topics.in, 'clock', count)
    await eventually(
      'the clock has told something of the plant',
      async () => (await statuses(topics.events)) > 0,
      90_000,
    )
    await member.end('SIGKILL')
    const heir = serve('--ticks', 'clock')
    await heir.says('Member started')
    await send(topics.in, [{ key: 'hollin-weir', value: reading('hollin-weir', 0, sentMs + 1_000) }])
    await taken(topics.in, 'clock', count + 1)
    expect(await heir.end('SIGTERM')).toBe(0)
    const ids = (await readCommitted(client, topics.events, PARTITIONS)).map(
      text => (JSON.parse(text) as { id: string }).id,
    )
    expect(new Set(ids).size).toBe(ids.length)
    expect(await readCommitted(client, topics.deadLetters, PARTITIONS)).toEqual([])
  })

  function prepare(group: string, settings: Record<string, unknown> = {}) {
    const topics = {
      in: `${group}.in`,
      events: `${group}.events`,
      changelog: `${group}.changelog`,
      deadLetters: `${group}.dead`,
      rekeyed: `${group}.rekeyed`,
    }
    const path = join(folder, `${group}.connections.yaml`)
    writeFileSync(
      path,
      JSON.stringify({ kafka: { brokers: servers.bootstrap, group, topics, sessionS: 6, ...settings } }),
    )
    const serve = (...args: readonly string[]) => {
      const ticks = args.includes('--ticks') ? [] : ['--ticks', 'event']
      return runTurbidrift('serve', '--kafka', '--register', ...registers, '--connections', path, ...ticks, ...args)
    }
    return { topics, serve }
  }

  async function send(topic: string, messages: { key: string; value: string; partition?: number }[]): Promise<void> {
    const producer = client.producer({ createPartitioner: Partitioners.DefaultPartitioner })
    await producer.connect()
    await producer.send({ topic, messages })
    await producer.disconnect()
  }

  /** Waits until the group has committed so many messages; markers of transactions are counted by the offsets too. */
  async function taken(topic: string, groupId: string, count: number): Promise<void> {
    const admin = client.admin()
    await admin.connect()
    await eventually(`${count} messages of ${topic} are taken`, async () => {
      const [told] = await admin.fetchOffsets({ groupId, topics: [topic] })
      return told!.partitions.reduce((sum, { offset }) => sum + Math.max(0, Number(offset)), 0) >= count
    })
    await admin.disconnect()
  }

  async function statuses(topic: string): Promise<number> {
    const admin = client.admin()
    await admin.connect()
    const offsets = await admin.fetchTopicOffsets(topic)
    await admin.disconnect()
    return offsets.reduce((sum, { high }) => sum + Number(high), 0)
  }
})

function analyzerOf(plant: string): string {
  return `${plant}-A`
}

function reading(plant: string, n: number, atMs = Date.UTC(2026, 3, 1)): string {
  const time = formatInstant(atMs + n * 60_000)
  return JSON.stringify({ kind: 'reading', analyzer: analyzerOf(plant), time, value: 0.1 + n / 100, unit: 'NTU' })
}
