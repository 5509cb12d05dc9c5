import { afterAll, beforeAll, describe, expect, it, onTestFinished } from 'vitest'
import { eventually } from '../support/eventually.js'
import { hasKafka, type KafkaServers, startKafka } from '../support/servers/kafka.js'
import { build } from './built.js'
import { expectUnbroken } from './kafkaEvents.js'
import { startMember } from './kafkaMember.js'
import { derivedPlants, interleaved, type TestPlant } from './kafkaPlants.js'
import { sendAhead } from './kafkaRecords.js'
import { type KafkaRun, prepareRun } from './kafkaRun.js'
import { temporaryFolder } from './killed.js'

const PARTITIONS = 4
const BROKER_KILLS = 3
const AHEAD = 1_000

describe.skipIf(!hasKafka())('brokers killed and started again', () => {
  const { folder, remove } = temporaryFolder()
  let plants: readonly TestPlant[]
  beforeAll(() => {
    build()
    plants = derivedPlants(folder, 12, 9)
  }, 120_000)
  afterAll(remove)

  it('change no event where one of three, a leader each time, is away', async () => {
    const servers = await startKafka({ brokers: 3 })
    await withMembers(servers, 'leaders', async (run, index) => {
      const topic = [run.topics.in, run.topics.events, run.topics.changelog][index % 3]!
      const leader = await servers.leaderOf(topic, index % PARTITIONS)
      await servers.kill(leader)
      // The other two go on without it.
      const before = await run.taken()
      await eventually('others have taken its place', async () => (await run.taken()) > before + AHEAD, 120_000)
      await servers.restart(leader)
    })
  }, 600_000)

  it('change no event where the only one is away', async () => {
    const servers = await startKafka()
    await withMembers(servers, 'restarts', async () => {
      await servers.kill(1)
      await servers.restart(1)
    })
  }, 600_000)

  async function withMembers(
    servers: KafkaServers,
    name: string,
    fault: (run: KafkaRun, index: number) => Promise<void>,
  ): Promise<void> {
    onTestFinished(() => servers.stop())
    const run = await prepareRun(servers, folder, name, PARTITIONS)
    const messages = interleaved(plants)
    const members = [startMember(run, plants), startMember(run, plants)]
    const sending = sendAhead(servers.client(), run, messages, AHEAD)
    for (let index = 0; index < BROKER_KILLS; index++) {
      const share = (index + 1) / (2 * BROKER_KILLS)
      await eventually(
        `${share} of the messages are taken`,
        async () => (await run.taken()) >= messages.length * share,
        300_000,
      )
      expect(await run.taken()).toBeLessThan(messages.length)
      await fault(run, index)
    }
    const repeats = await sending
    await expectUnbroken(`${name}: ${BROKER_KILLS} kills, ${repeats} chunks sent again`, {
      servers,
      run,
      members,
      plants,
    })
  }
})
