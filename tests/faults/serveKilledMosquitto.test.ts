import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { hasMosquitto } from '../support/mosquitto.js'
import { KILLS } from '../support/servers/faultSize.js'
import { BEFORE, keep, killAtMoments, killMoments } from './killed.js'
import { expectSame, type MosquittoPlant, mosquittoPlant, TOPIC } from './mosquittoPlant.js'
import { startSender } from './processes.js'

describe.skipIf(!hasMosquitto())(`serve behind Mosquitto, killed ${KILLS} times while messages wait`, () => {
  let plant: MosquittoPlant
  beforeAll(async () => {
    plant = await mosquittoPlant({ before: BEFORE, publishEvents: true })
  }, 180_000)
  afterAll(() => plant.remove())

  it('loses nothing between the brokers acknowledgement to the sender and the last event out', async () => {
    const { broker, expected } = plant
    const heard = new Map<string, string>()
    const reader = await mqtt.connectAsync(broker.url, { clientId: 'reader', clean: false })
    reader.on('message', (_topic, payload) => keep(heard, payload.toString()))
    // Events only: how the service itself stands is none.
    await reader.subscribeAsync(['turbidrift/hollin-weir/event/#', 'turbidrift/hollin-weir/status/#'], { qos: 1 })
    // The subscription has to stand before the first message: nobody keeps what nobody asked for.
    const first = await plant.start()
    await plant.connected(first)
    await first.kill('SIGTERM')
    const sender = startSender(broker.url, plant.stream, TOPIC, 500)
    let running = first
    try {
      running = await killAtMoments(killMoments(plant.lines.length), plant.start, plant.onDisk, {
        ...sender,
        // The broker takes all long before the service has it.
        done: () => false,
      })
      await eventually('the reader has every event', () => expected.size <= heard.size, 200_000)
      expect(sender.done()).toBe(true)
      await plant.sameEvents(running)
      expectSame(heard, expected)
    } finally {
      sender.end()
      await running.kill('SIGKILL')
      await reader.endAsync(true)
    }
  }, 900_000)
})
