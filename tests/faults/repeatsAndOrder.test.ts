import mqtt, { type MqttClient } from 'mqtt'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { hasMosquitto } from '../support/mosquitto.js'
import { type Random, seeded } from '../core/support/random.js'
import { type MosquittoPlant, mosquittoPlant, TOPIC } from './mosquittoPlant.js'

/** Under the lateness that the register allows where it says nothing, 120 s. */
const WINDOW_MS = 100_000
const SENDERS = 3

/**
 * Several gateways, each at its own pace, that send again what they are not sure of: within the lateness allowed any
 * order is as good as another, and a repeat says nothing new, whoever sends it and whether it is marked or not.
 */
describe.skipIf(!hasMosquitto())('serve behind Mosquitto with mixed senders, repeats and reordering', () => {
  let plant: MosquittoPlant
  let senders: readonly MqttClient[]
  beforeAll(async () => {
    // Not at the end of a quarter of an hour: whether the last block closes would be a matter of the last messages' order.
    plant = await mosquittoPlant({ before: '2026-04-05T00:08:00Z', arrange: factsInMidBlock })
    senders = await Promise.all(
      Array.from({ length: SENDERS }, (_, n) => mqtt.connectAsync(plant.broker.url, { clientId: `gateway-${n}` })),
    )
  }, 180_000)
  afterAll(async () => {
    await Promise.all(senders.map(sender => sender.endAsync(true)))
    await plant.remove()
  })

  it('says the same as one sender that sends each message once and in order', async () => {
    const random = seeded(20261128)
    let service = await plant.start()
    try {
      await plant.connected(service)
      const windows = inWindows(plant.lines)
      let before: readonly string[] = []
      let sent = 0
      for (const [index, window] of windows.entries()) {
        // What was sent in the window before may come again in this one, from whichever gateway.
        const again = [...before, ...window].filter(() => random.uniform() < 0.3)
        const together = shuffled([...window, ...again], random)
        await Promise.all(together.map(line => publish(line, random.below(2) === 0, random.below(SENDERS))))
        sent += together.length
        before = window
        if (index !== Math.floor(windows.length / 2)) continue
        // The broker repeats, marked, what a killed service had not acknowledged.
        await service.kill('SIGKILL')
        service = await plant.start()
      }
      expect(sent).toBeGreaterThan(1.4 * plant.lines.length)
      await eventually('everything is on disk', () => new Set(plant.taken()).size === new Set(plant.lines).size)
      await plant.sameEvents(service)
      expect(plant.taken().length).toBeGreaterThanOrEqual(sent)
    } finally {
      await service.kill('SIGKILL')
    }
  }, 300_000)

  async function publish(line: string, dup: boolean, sender: number): Promise<void> {
    await senders[sender]!.publishAsync(TOPIC, line, { qos: 1, dup })
  }
})

/**
 * Moves what is no reading to where no block closes for minutes. A laboratory result comes hours after its sample: on
 * which side of a closing block it is heard decides when it counts, and is no matter of lateness allowed.
 */
function factsInMidBlock(lines: readonly string[]): readonly string[] {
  const moved: string[] = []
  let facts: string[] = []
  for (const line of lines) {
    const { kind, time } = JSON.parse(line) as { kind: string; time?: string }
    if (kind !== 'reading') {
      facts.push(line)
      continue
    }
    moved.push(line)
    const minute = new Date(time!).getUTCMinutes() % 15
    if (minute < 8 || minute > 10) continue
    moved.push(...facts)
    facts = []
  }
  return [...moved, ...facts]
}

/** Lines that follow each other in time, in groups that span less than the window. */
function inWindows(lines: readonly string[]): readonly (readonly string[])[] {
  const windows: string[][] = []
  let endsMs = Number.NEGATIVE_INFINITY
  for (const line of lines) {
    const { kind, time } = JSON.parse(line) as { kind: string; time?: string }
    const atMs = kind === 'reading' ? Date.parse(time!) : endsMs - 1
    if (atMs >= endsMs) {
      windows.push([])
      endsMs = atMs + WINDOW_MS
    }
    windows.at(-1)!.push(line)
  }
  return windows
}

function shuffled<T>(items: readonly T[], random: Random): readonly T[] {
  return items
    .map(item => ({ item, key: random.uniform() }))
    .sort((a, b) => a.key - b.key)
    .map(({ item }) => item)
}
