import { expect } from 'vitest'
import { eventually } from '../support/eventually.js'
import type { KafkaServers } from '../support/servers/kafka.js'
import { comparable } from './expected.js'
import type { MemberProcess } from './kafkaMember.js'
import type { TestPlant } from './kafkaPlants.js'
import { readCommitted } from './kafkaRecords.js'
import type { KafkaRun } from './kafkaRun.js'

/**
 * Waits until members have taken everything, ends them in order, and holds what they published to the unbroken runs.
 * @param about what the figures that are printed are about
 */
export async function expectUnbroken(about: string, { servers, run, members, plants }: RunToCompare): Promise<void> {
  await eventually('everything is taken', run.allTaken, 300_000)
  for (const member of members) expect(await member.end('SIGTERM')).toBe(0)
  const compared = compareEvents(plants, await readCommitted(servers.client(), run.topics.events, run.partitions))
  const messages = plants.reduce((sum, { lines }) => sum + lines.length, 0)
  console.info(`${about}, ${messages} messages: ${JSON.stringify(compared)}`)
  expect(compared).toEqual(unbroken(plants))
  expect(await readCommitted(servers.client(), run.topics.deadLetters, run.partitions)).toEqual([])
}

interface RunToCompare {
  readonly servers: KafkaServers
  readonly run: KafkaRun
  readonly members: readonly MemberProcess[]
  readonly plants: readonly TestPlant[]
}

/** What was published beside what the unbroken runs publish, as numbers of events. */
interface Comparison {
  readonly events: number
  readonly lost: number
  readonly doubled: number
  /** Events no unbroken run knows. */
  readonly foreign: number
  /** Events with another content than in the unbroken run. */
  readonly changed: number
  /** Plants whose events came in another order. */
  readonly plantsOutOfOrder: number
}

/** @param bodies every record of the topic, in order within each partition */
function compareEvents(plants: readonly TestPlant[], bodies: readonly string[]): Comparison {
  const expected = new Map(plants.flatMap(({ expected }) => [...expected]))
  const published = bodies.map(body => ({ ...(JSON.parse(body) as { id: string; source: string }), body }))
  const first = new Map(published.map(({ id, body }) => [id, body]))
  const orderOf = (plant: string) => published.filter(({ source }) => source === plant).map(({ id }) => id)
  const isChanged = ({ id, body }: { id: string; body: string }) =>
    expected.has(id) && expected.get(id) !== comparable(body)
  return {
    events: expected.size,
    lost: [...expected.keys()].filter(id => !first.has(id)).length,
    doubled: published.length - first.size,
    foreign: published.filter(({ id }) => !expected.has(id)).length,
    changed: published.filter(isChanged).length,
    plantsOutOfOrder: plants.filter(({ name, expected }) => orderOf(name).join() !== [...expected.keys()].join())
      .length,
  }
}

/** What a run without any fault compares as. */
function unbroken(plants: readonly TestPlant[]): Comparison {
  const events = plants.reduce((sum, { expected }) => sum + expected.size, 0)
  return { events, lost: 0, doubled: 0, foreign: 0, changed: 0, plantsOutOfOrder: 0 }
}
