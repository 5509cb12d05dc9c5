import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { readRegisterFile } from '../../src/adapters/registerFile.js'
import { eventually } from '../support/eventually.js'
import { KILLS } from '../support/servers/faultSize.js'
import { build, SAMPLES } from './built.js'
import { unbrokenEvents, writeBeginning } from './expected.js'
import { BEFORE, eventsOf, inputsIn, killAtMoments, killMoments, temporaryFolder } from './killed.js'
import { startSender, startServe } from './processes.js'

const REGISTER = join(SAMPLES, 'register.yaml')
const ALL_KINDS = ['--kinds', 'reading', 'grab', 'work', 'process', 'laboratory_check', 'response']

describe(`serve, killed ${KILLS} times while it takes messages`, () => {
  const { folder, remove } = temporaryFolder()
  const stream = join(folder, 'stream.ndjson')
  let messages = 0
  let expected: ReadonlyMap<string, string>
  beforeAll(async () => {
    build()
    messages = await writeBeginning(stream, BEFORE)
    const register = await readRegisterFile(REGISTER)
    if (!register.ok) throw new Error(register.problems.join())
    expected = unbrokenEvents(stream, register.file)
  }, 180_000)
  afterAll(remove)

  it('publishes every event of the unbroken run, each with the same content, and no other', async () => {
    const store = join(folder, 'plant.db')
    const events = join(folder, 'events.ndjson')
    const common = ['--register', REGISTER, '--store', store, '--ticks', 'event', '--events', events, ...ALL_KINDS]
    // The first start takes a free port; the ones after it the same, for the sender to find.
    const first = await startServe([...common, '--port', '0'])
    const again = [...common, '--port', String(first.port)]
    const sender = startSender(`mqtt://127.0.0.1:${first.port!}`, stream, 'turbidrift/in/sample', 500)
    let running = first
    try {
      let started = false
      const start = async () => {
        if (!started) {
          started = true
          return first
        }
        return startServe(again)
      }
      running = await killAtMoments(killMoments(messages), start, () => inputsIn(store), sender)
      expect(sender.done()).toBe(false)
      await eventually('everything is acknowledged', sender.done, 400_000)
      expect(sender.acknowledged()).toBe(messages)
      expect(await running.kill('SIGTERM')).toBe(0)
      const got = eventsOf(events)
      expect([...got.keys()].filter(id => !expected.has(id))).toEqual([])
      expect([...expected.keys()].filter(id => !got.has(id))).toEqual([])
      for (const [id, content] of expected) expect(got.get(id)).toBe(content)
      expect(expected.size).toBeGreaterThan(1_000)
    } finally {
      sender.end()
      await running.kill('SIGKILL')
    }
  }, 900_000)
})
