import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, it } from 'vitest'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto } from '../support/mosquitto.js'
import { KILLS } from '../support/servers/faultSize.js'
import { moments } from './killed.js'
import { type MosquittoPlant, mosquittoPlant, TOPIC } from './mosquittoPlant.js'
import { type SenderProcess, startSender } from './processes.js'

/** A broker takes longer to start than the service. */
const BROKER_KILLS = Math.ceil(KILLS / 4)

/**
 * Mosquitto keeps what it has acknowledged in memory and writes it down now and then: killed, it forgets the newest,
 * and its sessions with them. No service can bring those back, so the sender keeps its own store and, after each loss
 * of the broker, goes back to the first message the service does not have.
 */
describe.skipIf(!hasMosquitto())(`serve behind Mosquitto, the broker killed ${BROKER_KILLS} times`, () => {
  let plant: MosquittoPlant
  let messages: readonly string[]
  beforeAll(async () => {
    plant = await mosquittoPlant({ before: '2026-04-11T00:00:00Z' })
    messages = plant.lines.map(line => canonicalJson(JSON.parse(line)))
  }, 180_000)
  afterAll(() => plant.remove())

  it('says the same as an unbroken run where the sender repeats what the service does not have', async () => {
    const { broker, lines } = plant
    const service = await plant.start()
    let sender: SenderProcess | undefined
    try {
      await plant.connected(service)
      let kills = 0
      for (const moment of moments(20261128, BROKER_KILLS, lines.length)) {
        sender = sendFrom(firstMissing())
        await eventually(`${moment} messages on disk`, () => plant.onDisk() >= moment, 120_000)
        sender.end()
        await broker.killAndRestart()
        await plant.connected(service, ++kills + 1)
      }
      sender = sendFrom(firstMissing())
      await eventually('everything is on disk', () => firstMissing() === lines.length, 200_000)
      await plant.sameEvents(service)
    } finally {
      sender?.end()
      await service.kill('SIGKILL')
    }
  }, 600_000)

  /** The first line of the file that is not in the journal. What comes twice, or out of order, is legal. */
  function firstMissing(): number {
    const taken = new Set(plant.taken())
    const at = messages.findIndex(message => !taken.has(message))
    return at < 0 ? messages.length : at
  }

  function sendFrom(line: number): SenderProcess {
    const file = join(plant.folder, 'rest.ndjson')
    writeFileSync(file, plant.lines.slice(line).join('\n'))
    return startSender(plant.broker.url, file, TOPIC, 500)
  }
})
