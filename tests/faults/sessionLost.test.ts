import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { hasMosquitto } from '../support/mosquitto.js'
import { type MosquittoPlant, mosquittoPlant, TOPIC } from './mosquittoPlant.js'
import { startSender } from './processes.js'

const WARNING =
  'The broker kept nothing for us, what was sent while we were away may be missing; have the senders repeat it'

/**
 * A broker that was away for longer than sessions last has forgotten that anybody subscribed, and throws away what is
 * sent until the service is back. It was acknowledged to the sender; nobody but the sender has it.
 */
describe.skipIf(!hasMosquitto())('serve behind a broker that has forgotten its session', () => {
  let plant: MosquittoPlant
  beforeEach(async () => {
    plant = await mosquittoPlant({ before: '2026-04-11T00:00:00Z' })
  }, 180_000)
  afterEach(() => plant.remove())

  it('warns, and says the same as an unbroken run once the sender has filled the gap', async () => {
    const third = Math.floor(plant.lines.length / 3)
    const before = await plant.start()
    let service = before
    try {
      await plant.connected(before)
      expect(warnings(before.log)).toBe(0)
      await send(0, third)
      await eventually('the first third is on disk', () => plant.taken().length === third)
      await before.kill('SIGTERM')
      await plant.broker.forgetAndRestart()
      await send(third, 2 * third)
      service = await plant.start()
      await plant.connected(service)
      expect(warnings(service.log)).toBe(1)
      // Some of what the service has comes again: who fills a gap rather begins too early.
      await send(third - 500, plant.lines.length)
      await plant.sameEvents(service)
    } finally {
      await service.kill('SIGKILL')
    }
  }, 180_000)

  async function send(from: number, to: number): Promise<void> {
    const file = join(plant.folder, 'part.ndjson')
    writeFileSync(file, plant.lines.slice(from, to).join('\n'))
    const sender = startSender(plant.broker.url, file, TOPIC, 500)
    try {
      await eventually('the broker has acknowledged all', sender.done)
    } finally {
      sender.end()
    }
  }
})

function warnings(log: readonly Readonly<Record<string, unknown>>[]): number {
  return log.filter(({ msg }) => msg === WARNING).length
}
