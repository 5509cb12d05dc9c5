import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { readRegisterFile } from '../../src/adapters/registerFile.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, type Mosquitto, startMosquitto } from '../support/mosquitto.js'
import { build, SAMPLES } from './built.js'
import { unbrokenEvents, writeBeginning } from './expected.js'
import { BEFORE, eventsOf, inputsIn, keep, killAtMoments, killMoments, temporaryFolder } from './killed.js'
import { startSender, startServe } from './processes.js'

describe.skipIf(!hasMosquitto())('serve behind Mosquitto, killed ten times', () => {
  const { folder, remove } = temporaryFolder()
  const stream = join(folder, 'stream.ndjson')
  const register = join(folder, 'register.yaml')
  const connections = join(folder, 'connections.yaml')
  let broker: Mosquitto
  let messages = 0
  let expected: ReadonlyMap<string, string>
  beforeAll(async () => {
    build()
    broker = await startMosquitto()
    writeFileSync(
      register,
      `${readFileSync(join(SAMPLES, 'register.yaml'), 'utf8')}
feeds:
  - { name: site, type: mqtt, connection: site, topic: "site/#", kinds: [ reading, grab, work, process ] }
`,
    )
    writeFileSync(connections, `mqtt: { site: { url: "${broker.url}", publishEvents: true } }`)
    messages = await writeBeginning(stream, BEFORE)
    const read = await readRegisterFile(register)
    if (!read.ok) throw new Error(read.problems.join())
    expected = unbrokenEvents(stream, read.file)
  })
  afterAll(async () => {
    await broker.stop()
    remove()
  })

  it('loses nothing between the brokers acknowledgement to the sender and the last event out', async () => {
    const store = join(folder, 'plant.db')
    const events = join(folder, 'events.ndjson')
    const heard = new Map<string, string>()
    const reader = await mqtt.connectAsync(broker.url, { clientId: 'reader', clean: false })
    reader.on('message', (_topic, payload) => keep(heard, payload.toString()))
    // Events only: how the service itself stands is none.
    await reader.subscribeAsync(['turbidrift/hollin-weir/event/#', 'turbidrift/hollin-weir/status/#'], { qos: 1 })
    const args = ['--register', register, '--connections', connections, '--store', store]
    const start = () => startServe([...args, '--ticks', 'event', '--events', events])
    // The subscription has to stand before the first message: nobody keeps what nobody asked for.
    const first = await start()
    await eventually('the feed is connected', () =>
      first.log.some(({ msg, feed }) => msg === 'Connected to the broker' && feed === 'site'),
    )
    await first.kill('SIGTERM')
    const sender = startSender(broker.url, stream, 'site/sample', 500)
    let running = first
    try {
      running = await killAtMoments(killMoments(messages), start, () => inputsIn(store), {
        ...sender,
        // The broker takes all long before the service has it.
        done: () => false,
      })
      await eventually('the reader has every event', () => expected.size <= heard.size, 200_000)
      expect(sender.done()).toBe(true)
      expect(running.port).toBeUndefined()
      expect(await running.kill('SIGTERM')).toBe(0)
      const got = eventsOf(events)
      for (const published of [got, heard]) {
        expect([...published.keys()].filter(id => !expected.has(id))).toEqual([])
        expect([...expected.keys()].filter(id => !published.has(id))).toEqual([])
        for (const [id, content] of expected) expect(published.get(id)).toBe(content)
      }
    } finally {
      sender.end()
      await running.kill('SIGKILL')
      await reader.endAsync(true)
    }
  }, 300_000)
})
