// Throughput of a member of `serve --kafka`, as a ratio to a bare `kafkajs` consumer that parses JSON and nothing else:
// the same broker, the same topic in the same run, both from its beginning, in turns. The member commits events, state
// and offsets in transactions; the bare one commits its offsets now and then.
// Needs Java and the jars that tests/support/servers/fetch-kafka brings.
// usage: npm run bench:serve-kafka -- [messages, default 100000] [rounds, default 5] [seconds between readings, default 60]
import { execFileSync, spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { homedir, tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { fileURLToPath } from 'node:url'
import { Kafka, logLevel, Partitioners } from 'kafkajs'
import { readings, REGISTER } from './serveLoad.mjs'
import { compare, drain, startNode } from './serveMeasure.mjs'

const [messages, rounds, everyS] = [2, 3, 4].map((at, i) => Number(process.argv[at] ?? [100_000, 5, 60][i]))
const nodeArgs = (process.env.SERVE_NODE_ARGS ?? '').split(' ').filter(arg => arg !== '')
const at = path => fileURLToPath(new URL(path, import.meta.url))
const folder = mkdtempSync(join(tmpdir(), 'turbidrift-bench-'))
const TOPIC = 'bench.in'
const PLANT = 'hollin-weir'
const POLL_MS = 100
const JAVA = 'java'

const [port, controllerPort] = [await freePort(), await freePort()]
const broker = await startBroker()
const kafka = new Kafka({ clientId: 'bench', brokers: [`127.0.0.1:${port}`], logLevel: logLevel.NOTHING })
const admin = kafka.admin()
try {
  await admin.connect()
  await main()
} finally {
  await admin.disconnect()
  broker.kill('SIGKILL')
  await once(broker, 'exit')
  rmSync(folder, { recursive: true, force: true })
}

async function main() {
  await createTopics([TOPIC])
  await publish(await readings(messages, everyS))
  await compare(rounds, { messages, rounds, everyS }, { bare: drainBare, serve: drainServe })
}

async function drainBare(round) {
  let count = 0
  const bare = startNode(['-e', bareProgram(`bare-${round}`)], line => (count = Number(line)))
  try {
    return await drain(bare, () => count, messages)
  } finally {
    await bare.end('SIGKILL')
  }
}

/** How far the member is, is what its group has committed. */
async function drainServe(round) {
  const group = `serve-${round}`
  const topics = { in: TOPIC, events: `${group}.events`, changelog: `${group}.changelog`, deadLetters: `${group}.dead` }
  await createTopics([topics.events, topics.changelog, topics.deadLetters])
  const connections = join(folder, `${group}.yaml`)
  const kafkaOptions = { brokers: [`127.0.0.1:${port}`], group, topics, kinds: ['reading'] }
  writeFileSync(connections, JSON.stringify({ kafka: kafkaOptions }))
  const args = ['--kafka', '--register', REGISTER, '--connections', connections, '--ticks', 'event']
  const serve = startNode([...nodeArgs, at('../../dist/cli/main.js'), 'serve', ...args])
  let committed = 0
  let watching = true
  const watch = (async () => {
    while (watching) {
      const told = await admin.fetchOffsets({ groupId: group, topics: [TOPIC] }).catch(() => [])
      committed = Math.max(committed, Number(told[0]?.partitions[0]?.offset ?? 0))
      await wait(POLL_MS)
    }
  })()
  try {
    return await drain(serve, () => committed, messages)
  } finally {
    watching = false
    await watch
    await serve.end('SIGTERM')
  }
}

function bareProgram(groupId) {
  return `
    const { Kafka, logLevel } = require(${JSON.stringify(at('../../node_modules/kafkajs'))})
    const kafka = new Kafka({ clientId: 'bare', brokers: ['127.0.0.1:${port}'], logLevel: logLevel.NOTHING })
    const consumer = kafka.consumer({ groupId: '${groupId}' })
    let count = 0
    const main = async () => {
      await consumer.connect()
      await consumer.subscribe({ topic: '${TOPIC}', fromBeginning: true })
      await consumer.run({
        eachBatch: async ({ batch }) => {
          for (const message of batch.messages) JSON.parse(message.value.toString())
          count += batch.messages.length
          process.stdout.write(count + '\\n')
        },
      })
    }
    void main()`
}

async function publish(lines) {
  const producer = kafka.producer({ createPartitioner: Partitioners.DefaultPartitioner })
  await producer.connect()
  for (let from = 0; from < lines.length; from += 5_000) {
    const batch = lines.slice(from, from + 5_000).map(value => ({ key: PLANT, value }))
    await producer.send({ topic: TOPIC, messages: batch, acks: -1 })
  }
  await producer.disconnect()
}

async function createTopics(topics) {
  const compacted = [{ name: 'cleanup.policy', value: 'compact' }]
  await admin.createTopics({
    topics: topics.map(topic => ({
      topic,
      numPartitions: 1,
      replicationFactor: 1,
      ...(topic.endsWith('.changelog') ? { configEntries: compacted } : {}),
    })),
  })
}

/** One broker in KRaft mode, which is its own controller. */
async function startBroker() {
  const cache = process.env.TURBIDRIFT_SERVER_CACHE ?? join(homedir(), '.cache', 'turbidrift-servers')
  const jars = join(cache, readdirSync(cache).find(name => name.startsWith('kafka-')) ?? '', '*')
  const settings = join(folder, 'server.properties')
  writeFileSync(
    settings,
    `process.roles=broker,controller
node.id=1
controller.quorum.voters=1@127.0.0.1:${controllerPort}
listeners=CLIENT://127.0.0.1:${port},CONTROLLER://127.0.0.1:${controllerPort}
advertised.listeners=CLIENT://127.0.0.1:${port}
listener.security.protocol.map=CLIENT:PLAINTEXT,CONTROLLER:PLAINTEXT
controller.listener.names=CONTROLLER
inter.broker.listener.name=CLIENT
log.dirs=${join(folder, 'data')}
auto.create.topics.enable=false
offsets.topic.replication.factor=1
offsets.topic.num.partitions=1
transaction.state.log.replication.factor=1
transaction.state.log.min.isr=1
transaction.state.log.num.partitions=1
group.initial.rebalance.delay.ms=0
`,
  )
  const log4j = `-Dlog4j.configuration=file:${at('../support/servers/log4j.properties')}`
  const java = ['-Xms128m', '-Xmx384m', '-XX:+UseSerialGC', '-cp', jars, log4j]
  execFileSync(JAVA, [
    ...java,
    'kafka.tools.StorageTool',
    'format',
    '--cluster-id=YmVuY2hjbHVzdGVyYmVuYw',
    '-c',
    settings,
  ])
  const child = spawn(JAVA, [...java, 'kafka.Kafka', settings], { stdio: ['ignore', 'pipe', 'inherit'] })
  let said = ''
  child.stdout.setEncoding('utf8').on('data', text => (said += text))
  while (!said.includes('Kafka Server started')) {
    if (child.exitCode !== null) throw new Error(`Kafka ended: ${said}`)
    await wait(50)
  }
  return child
}

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port: free } = server.address()
  server.close()
  return free
}
