import { setTimeout as wait } from 'node:timers/promises'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { KILLS } from '../support/servers/faultSize.js'
import { hasKafka, type KafkaServers, startKafka } from '../support/servers/kafka.js'
import { build } from './built.js'
import { expectUnbroken } from './kafkaEvents.js'
import { startMember } from './kafkaMember.js'
import { derivedPlants, interleaved, samplePlant, type TestPlant } from './kafkaPlants.js'
import { sendAhead } from './kafkaRecords.js'
import { prepareRun } from './kafkaRun.js'
import { BEFORE, killMoments, temporaryFolder } from './killed.js'

const PARTITIONS = 4
const MEMBERS = 2
/** Few enough messages waiting that they last until the last kill. */
const AHEAD = 1_000

describe.skipIf(!hasKafka())('members killed', () => {
  const { folder, remove } = temporaryFolder()
  let servers: KafkaServers
  let plants: readonly TestPlant[]
  beforeAll(async () => {
    build()
    servers = await startKafka()
    plants = [samplePlant(folder, BEFORE), ...derivedPlants(folder, 11, 3)]
  }, 120_000)
  afterAll(async () => {
    await servers.stop()
    remove()
  })

  it(
    'publish every event of the unbroken runs exactly once',
    async () => {
      const run = await prepareRun(servers, folder, 'killed', PARTITIONS)
      const messages = interleaved(plants)
      const members = Array.from({ length: MEMBERS }, () => startMember(run, plants))
      const sending = sendAhead(servers.client(), run, messages, AHEAD)
      for (const [index, moment] of killMoments(messages.length).entries()) {
        await eventually(`${moment} messages are taken`, async () => (await run.taken()) >= moment, 300_000)
        // Commits end at what has been taken: the kill has to be able to fall anywhere between two of them.
        await wait((moment * 37) % 700)
        const victim = (moment >> 3) % MEMBERS
        expect(await members[victim]!.end('SIGKILL')).toBeNull()
        members[victim] = startMember(run, plants)
        if (index === KILLS - 1) expect(await run.taken()).toBeLessThan(messages.length)
      }
      await sending
      await expectUnbroken(`${KILLS} kills`, { servers, run, members, plants })
    },
    60_000 * (KILLS + 5),
  )
})
