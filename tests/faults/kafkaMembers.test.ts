import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { hasKafka, type KafkaServers, startKafka } from '../support/servers/kafka.js'
import { build } from './built.js'
import { expectUnbroken } from './kafkaEvents.js'
import { type MemberProcess, startMember } from './kafkaMember.js'
import { derivedPlants, interleaved, type TestPlant } from './kafkaPlants.js'
import { sendAhead } from './kafkaRecords.js'
import { prepareRun } from './kafkaRun.js'
import { temporaryFolder } from './killed.js'

const PLANTS = 40
const PARTITIONS = 8

describe.skipIf(!hasKafka())('forty plants', () => {
  const { folder, remove } = temporaryFolder()
  let servers: KafkaServers
  let plants: readonly TestPlant[]
  beforeAll(async () => {
    build()
    servers = await startKafka()
    plants = derivedPlants(folder, PLANTS, 2)
  }, 120_000)
  afterAll(async () => {
    await servers.stop()
    remove()
  })

  it.each([1, 2, 4])(
    'give the same events with %i members',
    async count => {
      const run = await prepareRun(servers, folder, `members-${count}`, PARTITIONS)
      const members = Array.from({ length: count }, () => startMember(run, plants))
      await eventually('every member has partitions', async () => (await run.working()) === count)
      const messages = interleaved(plants)
      await sendAhead(servers.client(), run, messages, messages.length)
      expect(await run.working()).toBe(count)
      await expectUnbroken(`${count} members`, { servers, run, members, plants })
    },
    400_000,
  )

  it('give the same events while members join and leave in the middle of batches', async () => {
    const run = await prepareRun(servers, folder, 'rebalance', PARTITIONS)
    const messages = interleaved(plants)
    const members: MemberProcess[] = [startMember(run, plants)]
    const taken = (share: number) =>
      eventually(
        `${share} of the messages are taken`,
        async () => (await run.taken()) >= share * messages.length,
        300_000,
      )
    const working = (count: number) =>
      eventually(`${count} members have partitions`, async () => (await run.working()) === count)
    const join = async (share: number) => {
      await taken(share)
      members.push(startMember(run, plants))
      await working(members.length)
    }
    const leave = async (share: number) => {
      await taken(share)
      expect(await members.shift()!.end('SIGTERM')).toBe(0)
      await working(members.length)
    }
    const sending = sendAhead(servers.client(), run, messages, 500)
    await join(0.05)
    await join(0.15)
    await leave(0.25)
    await join(0.35)
    await join(0.45)
    await leave(0.55)
    await leave(0.65)
    await leave(0.75)
    expect(await run.taken()).toBeLessThan(messages.length)
    await sending
    await expectUnbroken('8 rebalances', { servers, run, members, plants })
  }, 400_000)
})
