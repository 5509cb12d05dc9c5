import { execFileSync, spawn } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { createConnection, createServer, type Socket } from 'node:net'
import { dirname, join } from 'node:path'
import { createInterface } from 'node:readline'
import mqtt from 'mqtt'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import { readRegisterFile } from '../../src/adapters/registerFile.js'
import { openStore } from '../../src/adapters/sqliteStore.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, startMosquitto } from '../support/mosquitto.js'
import { startReceiver } from '../support/webhookReceiver.js'
import { build, MAIN, SAMPLES } from './built.js'
import { unbrokenEvents, writeBeginning } from './expected.js'
import { inputsIn, temporaryFolder } from './killed.js'
import { startSender, startServe } from './processes.js'

const SINKS = join(dirname(MAIN), '..', 'service', 'ndjsonSink.js')
const REGISTER = join(SAMPLES, 'register.yaml')
const KINDS = ['reading', 'grab', 'work', 'process', 'laboratory_check', 'response']
/** Three days of the sample: more events than a page of the outbox and a full pipe hold. */
const BEFORE = '2026-04-04T00:00:00Z'

describe('serve with sinks that hang, fail or are dead', () => {
  const { folder, remove } = temporaryFolder()
  const stream = join(folder, 'stream.ndjson')
  let messages = 0
  let expected: readonly string[]
  beforeAll(async () => {
    build()
    writeFileSync(join(folder, 'key'), 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw\n')
    messages = await writeBeginning(stream, BEFORE)
    const register = await readRegisterFile(REGISTER)
    if (!register.ok) throw new Error(register.problems.join())
    expected = [...unbrokenEvents(stream, register.file).keys()]
    expect(expected.length).toBeGreaterThan(1_000)
  })
  afterAll(remove)

  const open: (() => unknown)[] = []
  afterEach(async () => {
    for (const close of open.splice(0).reverse()) await close()
  })

  it.skipIf(!hasMosquitto())(
    'writes all to the events file while the others hang, and all to the others when they come back',
    async () => {
      let isWell = false
      const hanging = await startReceiver(() => (isWell ? 204 : 'nothing'))
      const failing = await startReceiver(() => (isWell ? 200 : 500))
      const broker = await startMosquitto()
      const way = await startWay(broker.port, () => isWell)
      open.push(hanging.stop, failing.stop, broker.stop, way.stop)
      const heard: string[] = []
      const reader = await mqtt.connectAsync(broker.url)
      open.push(() => reader.endAsync(true))
      reader.on('message', (topic, payload) => {
        if (/\/(event|status)\//.test(topic)) heard.push((JSON.parse(payload.toString()) as { id: string }).id)
      })
      await reader.subscribeAsync('turbidrift/hollin-weir/#', { qos: 1 })

      const connections = join(folder, 'connections.yaml')
      writeFileSync(
        connections,
        `mqtt: { plant: { url: "mqtt://127.0.0.1:${way.port}", publishEvents: true } }
webhooks:
  hanging: { url: "${hanging.url}", secrets: [ { file: key } ], allowPrivateAddresses: true }
  failing: { url: "${failing.url}", secrets: [ { file: key } ], allowPrivateAddresses: true }
`,
      )
      const [store, events] = [join(folder, 'plant.db'), join(folder, 'events.ndjson')]
      const args = ['--register', REGISTER, '--store', store, '--ticks', 'event', '--connections', connections]
      const serve = (port: string) => startServe([...args, '--events', events, '--kinds', ...KINDS, '--port', port])
      let service = await serve('0')
      open.push(() => service.kill('SIGKILL'))
      const { port } = service
      const sender = startSender(`mqtt://127.0.0.1:${port!}`, stream, 'turbidrift/in/sample', 500)
      open.push(sender.end)
      await eventually('half is on disk', () => inputsIn(store) > messages / 2)
      await service.kill('SIGKILL')
      service = await serve(String(port))

      await eventually('the file has every event', () => new Set(idsIn(events)).size === expected.length, 100_000)
      expect([hanging.taken, failing.taken, heard]).toEqual([[], [], []])
      await eventually('every message is acknowledged', sender.done)
      expect(sender.acknowledged()).toBe(messages)
      expect([...new Set(idsIn(events))]).toEqual(expected)
      expect([hanging.taken, failing.taken, heard]).toEqual([[], [], []])

      isWell = true
      const others = [hanging.taken, failing.taken, heard]
      await eventually(
        'the others have every event',
        () => others.every(ids => new Set(ids).size === expected.length),
        200_000,
      )
      for (const ids of others) expect([...new Set(ids)]).toEqual(expected)
      expect(await service.kill('SIGTERM')).toBe(0)
    },
    400_000,
  )

  it('does not wait for the reader of a full pipe, and has it read all later', async () => {
    const receiver = await startReceiver(() => 200)
    open.push(receiver.stop)
    const connections = join(folder, 'one-webhook.yaml')
    const webhook = `{ url: "${receiver.url}", secrets: [ { file: key } ], allowPrivateAddresses: true }`
    writeFileSync(connections, `webhooks: { maintenance: ${webhook} }\n`)
    const store = join(folder, 'pipe.db')
    const args = ['--register', REGISTER, '--store', store, '--ticks', 'event', '--events', '-']
    const all = [MAIN, 'serve', ...args, '--connections', connections, '--port', '0', '--kinds', ...KINDS]
    const service = spawn(process.execPath, all, { stdio: ['ignore', 'pipe', 'pipe'] })
    open.push(() => service.kill('SIGKILL'))
    let port: number | undefined
    createInterface({ input: service.stderr }).on('line', line => {
      port ??= (JSON.parse(line) as { port?: number }).port
    })
    await eventually('the service is up', () => port !== undefined)
    const sender = startSender(`mqtt://127.0.0.1:${port!}`, stream, 'turbidrift/in/sample', 500)
    open.push(sender.end)
    await eventually('the webhook has every event', () => receiver.taken.length === expected.length, 200_000)
    await eventually('every message is acknowledged', sender.done)
    expect(receiver.taken).toEqual(expected)
    // So that it was full indeed.
    expect(cursorIn(store, 'stdout')).toBeLessThan(expected.length)
    const read: string[] = []
    createInterface({ input: service.stdout }).on('line', line => read.push((JSON.parse(line) as { id: string }).id))
    await eventually('the pipe has every event', () => read.length === expected.length)
    expect(read).toEqual(expected)
    service.kill('SIGTERM')
    expect(await once(service, 'exit')).toEqual([0, null])
  }, 300_000)
})

describe('the events file where no more can be written', () => {
  const { folder, remove } = temporaryFolder()
  beforeAll(build)
  afterAll(remove)

  it('is cut back to its last whole line before it goes on', () => {
    const path = join(folder, 'events.ndjson')
    const program = `
      const { fileSink } = await import(${JSON.stringify(SINKS)})
      const sink = fileSink('events', ${JSON.stringify(path)})
      for (const body of ['{"n":1}', '{"long":"' + 'x'.repeat(100_000) + '"}', '{"n":3}']) {
        const outcome = await sink.publish([{ body }]).then(() => 'taken', error => error.code)
        process.stdout.write(outcome + ' ')
      }`
    // A limit on the size of files is a full disk that needs no disk: the first write goes half-way, the next fails.
    const limited = ['-c', 'ulimit -f 16; exec "$0" "$@"', process.execPath, '--input-type=module', '-e', program]
    expect(execFileSync('sh', limited, { encoding: 'utf8' })).toBe('taken EFBIG taken ')
    expect(readFileSync(path, 'utf8')).toBe('{"n":1}\n{"n":3}\n')
  })
})

/** A way to a broker, at whose end nobody answers while it is not well. */
async function startWay(brokerPort: number, isWell: () => boolean) {
  const sockets = new Set<Socket>()
  const server = createServer(socket => {
    sockets.add(socket)
    socket.on('error', () => {})
    if (!isWell()) return
    const broker = createConnection(brokerPort, '127.0.0.1')
    sockets.add(broker)
    broker.on('error', () => {})
    socket.pipe(broker).pipe(socket)
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  const address = server.address()
  if (typeof address !== 'object' || address === null) throw new Error('no port')
  return {
    port: address.port,
    stop: () => {
      for (const socket of sockets) socket.destroy()
      server.close()
    },
  }
}

function cursorIn(path: string, sink: string): number {
  const opened = openStore(path, undefined, { readOnly: true })
  if (!opened.ok) throw new Error(opened.problem)
  const cursor = opened.store.cursor(sink)
  opened.store.close()
  return cursor
}

function idsIn(path: string): string[] {
  if (!existsSync(path)) return []
  const lines = readFileSync(path, 'utf8').split('\n').slice(0, -1)
  return lines.map(line => (JSON.parse(line) as { id: string }).id)
}
