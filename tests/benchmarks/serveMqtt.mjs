// Throughput of `serve` behind Mosquitto, as a ratio to a bare `mqtt` consumer that parses JSON and nothing else: the
// same broker, the same messages in the same run, QoS 1. Both find their queue full and drain it, in turns; `serve`
// acknowledges after the commit, the bare one at once. Ratios hold on any machine, messages a second do not.
// usage: npm run bench:serve -- [messages, default 100000] [rounds, default 5] [seconds between readings, default 60]
import { spawn } from 'node:child_process'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createConnection, createServer } from 'node:net'
import { once } from 'node:events'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { fileURLToPath } from 'node:url'
import mqtt from 'mqtt'
import { openStore } from '../../dist/adapters/sqliteStore.js'
import { readings, REGISTER } from './serveLoad.mjs'
import { compare, drain, startNode } from './serveMeasure.mjs'

const [messages, rounds, everyS] = [2, 3, 4].map((at, i) => Number(process.argv[at] ?? [100_000, 5, 60][i]))
const nodeArgs = (process.env.SERVE_NODE_ARGS ?? '').split(' ').filter(arg => arg !== '')
const at = path => fileURLToPath(new URL(path, import.meta.url))
const folder = mkdtempSync(join(tmpdir(), 'turbidrift-bench-'))
const TOPIC = 'site/sample'
const BROKER = 'mosquitto'
const PATH = `${process.env.PATH ?? ''}:/usr/sbin:/usr/local/sbin`

const port = await freePort()
const url = `mqtt://127.0.0.1:${port}`
const broker = await startBroker()
try {
  await main()
} finally {
  broker.kill('SIGTERM')
  await once(broker, 'exit')
  rmSync(folder, { recursive: true, force: true })
}

async function main() {
  const lines = await readings(messages, everyS)
  const register = join(folder, 'register.yaml')
  const feed = `{ name: site, type: mqtt, url: "${url}", topic: "site/#", kinds: [ reading ] }`
  writeFileSync(register, `${readFileSync(REGISTER, 'utf8')}\nfeeds:\n  - ${feed}\n`)
  // Each once before the first message, so that the broker keeps a queue for both.
  await subscribeBare()
  await subscribeServe(register)
  await compare(
    rounds,
    { messages, rounds, everyS },
    { before: () => publish(lines), bare: drainBare, serve: () => drainServe(register) },
  )
}

async function drainBare() {
  let count = 0
  const bare = startNode(['-e', bareProgram(true)], line => (count = Number(line)))
  try {
    return await drain(bare, () => count, messages)
  } finally {
    await bare.end('SIGKILL')
  }
}

async function drainServe(register) {
  const path = join(folder, `plant-${Date.now()}.db`)
  const serve = startServe(register, path)
  let store
  try {
    await until(serve, 'Service started')
    const opened = openStore(path, undefined, { readOnly: true })
    if (!opened.ok) throw new Error(opened.problem)
    store = opened.store
    const drained = await drain(serve, () => store.lastSeq())
    const taken = [...store.journalAfter(0)].filter(row => JSON.parse(row.input).feed === 'site').length
    if (taken !== messages) throw new Error(`serve has ${taken} of ${messages} messages`)
    if (store.rejectedTotal() > 0) throw new Error(`serve refused ${store.rejectedTotal()}`)
    return drained
  } finally {
    store?.close()
    await serve.end('SIGTERM')
  }
}

async function subscribeBare() {
  const bare = startNode(['-e', bareProgram(false)])
  while (!bare.hasEnded()) await wait(10)
}

async function subscribeServe(register) {
  const serve = startServe(register, join(folder, 'first.db'))
  await until(serve, 'Connected to the broker')
  await wait(500)
  await serve.end('SIGTERM')
}

function startServe(register, store) {
  const args = ['--register', register, '--store', store, '--ticks', 'event', '--events', `${store}.events.ndjson`]
  return startNode([...nodeArgs, at('../../dist/cli/main.js'), 'serve', ...args])
}

async function until(process, msg) {
  while (!process.said.some(line => line.includes(`"msg":"${msg}"`))) {
    if (process.hasEnded()) throw new Error(process.said.join('\n'))
    await wait(10)
  }
}

/** Connects as `serve` does: MQTT 5, a session that stays, QoS 1, as many under way; counts what it has parsed. */
function bareProgram(consume) {
  return `
    const mqtt = require(${JSON.stringify(at('../../node_modules/mqtt'))})
    const client = mqtt.connect(${JSON.stringify(url)}, {
      protocolVersion: 5, clientId: 'bare', clean: false,
      properties: { sessionExpiryInterval: 86400, receiveMaximum: 1000 },
    })
    let count = 0
    client.on('message', (_topic, payload) => {
      JSON.parse(payload.toString())
      if (++count % 500 === 0 || count === ${messages}) process.stdout.write(count + '\\n')
    })
    client.on('connect', () => client.subscribe('site/#', { qos: 1 }, () => ${consume} || client.end()))`
}

async function publish(lines) {
  const client = await mqtt.connectAsync(url, { clientId: 'sender' })
  for (let from = 0; from < lines.length; from += 1_000) {
    await Promise.all(lines.slice(from, from + 1_000).map(line => client.publishAsync(TOPIC, line, { qos: 1 })))
  }
  await client.endAsync()
}

/** As deploy/mosquitto.conf, without TLS and users, and with room for any queue. */
async function startBroker() {
  mkdirSync(join(folder, 'data'))
  const config = join(folder, 'mosquitto.conf')
  writeFileSync(
    config,
    `${process.getuid?.() === 0 ? 'user root\n' : ''}listener ${port} 127.0.0.1
allow_anonymous true
max_inflight_messages 1000
max_queued_messages 0
max_queued_bytes 0
persistence true
persistence_location ${folder}/data/
autosave_interval 3600
log_dest none
`,
  )
  const child = spawn(BROKER, ['-c', config], { env: { ...process.env, PATH }, stdio: 'ignore' })
  for (let tries = 0; tries < 500; tries++) {
    if (await accepts()) return child
    await wait(20)
  }
  throw new Error('Mosquitto does not listen')
}

function accepts() {
  return new Promise(resolve => {
    const socket = createConnection(port, '127.0.0.1')
    socket.once('connect', () => {
      socket.destroy()
      resolve(true)
    })
    socket.once('error', () => resolve(false))
  })
}

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port: free } = server.address()
  server.close()
  return free
}
