import { setTimeout as wait } from 'node:timers/promises'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { KILLS } from '../support/servers/faultSize.js'
import { hasKafka, type KafkaServers, startKafka } from '../support/servers/kafka.js'
import { build } from './built.js'
import { compareEvents, unbroken } from './kafkaEvents.js'
import { endAll, startMember } from './kafkaMember.js'
import { derivedPlants, interleaved, samplePlant, type TestPlant } from './kafkaPlants.js'
import { readCommitted, sendAhead } from './kafkaRecords.js'
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
      try {
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
        await eventually('everything is taken', run.allTaken, 300_000)
        for (const member of members) expect(await member.end('SIGTERM')).toBe(0)
        const bodies = await readCommitted(servers.client(), run.topics.events, PARTITIONS)
        const compared = compareEvents(plants, bodies)
        console.info(`${KILLS} kills, ${messages.length} messages, ${JSON.stringify(compared)}`)
        expect(compared).toEqual(unbroken(plants))
        expect(await readCommitted(servers.client(), run.topics.deadLetters, PARTITIONS)).toEqual([])
      } finally {
        await endAll(members)
        await run.close()
      }
    },
    60_000 * (KILLS + 5),
  )
})
