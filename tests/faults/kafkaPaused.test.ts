import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { hasKafka, type KafkaServers, startKafka } from '../support/servers/kafka.js'
import { build } from './built.js'
import { expectUnbroken } from './kafkaEvents.js'
import { startMember } from './kafkaMember.js'
import { derivedPlants, interleaved, type TestPlant } from './kafkaPlants.js'
import { sendAhead } from './kafkaRecords.js'
import { prepareRun } from './kafkaRun.js'
import { temporaryFolder } from './killed.js'

const PARTITIONS = 4
/** One pause may fall between two commits; not all of them do. */
const PAUSES = 4
const AHEAD = 2_000
/** What the broker answers a producer whose transactional id another has taken. */
const FENCED = 'Producer attempted an operation with an old epoch'

describe.skipIf(!hasKafka())('a member paused beyond its session and resumed', () => {
  const { folder, remove } = temporaryFolder()
  let servers: KafkaServers
  let plants: readonly TestPlant[]
  beforeAll(async () => {
    build()
    servers = await startKafka()
    plants = derivedPlants(folder, 12, 5)
  }, 120_000)
  afterAll(async () => {
    await servers.stop()
    remove()
  })

  it('commits no more under the old session, and changes no event', async () => {
    const run = await prepareRun(servers, folder, 'paused', PARTITIONS)
    const messages = interleaved(plants)
    const members = [startMember(run, plants), startMember(run, plants)]
    const working = (count: number) =>
      eventually(`${count} members have partitions`, async () => (await run.working()) === count, 120_000)
    const taken = (count: number) =>
      eventually(`${count} messages are taken`, async () => (await run.taken()) >= count, 300_000)
    await working(2)
    const sending = sendAhead(servers.client(), run, messages, AHEAD)
    for (let pause = 1; pause <= PAUSES; pause++) {
      await taken((messages.length * pause) / (PAUSES + 2))
      const paused = members[pause % 2]!
      paused.pause()
      await working(1)
      // The heir has taken over, committed to every partition, and goes on.
      await taken((await run.taken()) + AHEAD)
      paused.resume()
      await working(2)
    }
    expect(await run.taken()).toBeLessThan(messages.length)
    await sending
    await expectUnbroken(`${PAUSES} pauses`, { servers, run, members, plants })
    const fenced = members.flatMap(({ log }) => log.filter(line => JSON.stringify(line).includes(FENCED)))
    expect(fenced.length).toBeGreaterThan(0)
  }, 600_000)
})
