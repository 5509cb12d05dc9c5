import { Buffer } from 'node:buffer'
import { describe, expect, it } from 'vitest'
import { positionRecord } from '../../../src/service/kafka/changelog.js'
import type { Turn } from '../../../src/service/kafka/place.js'
import { reading } from '../fakeCore.js'
import { historyCore } from './historyCore.js'
import { TOPICS, workedLog } from './workedLog.js'

const files = [{ plant: 'weir', points: { P: { analyzers: { 'P-A': { unit: 'NTU' as const } } } } }]

describe('a partition is not opened', () => {
  it.each([
    ['the input was made anew', { place: 9 }, 'in/0 ends at 4, before 9, up to where it was worked: it was made anew'],
    ['the input has another number of partitions', { partitions: 8 }, 'in has 1 partitions and had 8'],
    [
      'what has to be worked again has expired',
      { turns: [{ topic: 'in', from: 0, to: 4 } as const], first: 2 },
      'in/0 begins at 2, after 0, from where it has to be worked again',
    ],
  ])('where %s', async (_what, { place = 4, partitions = 1, turns = [], first = 0 }: Case, sentence) => {
    const worked = start()
    append(worked, 4)
    worked.log.expire(TOPICS.in, 0, first)
    const position = {
      place: { in: place, rekeyed: 0, tick: 0 },
      turns,
      partitions,
      ticks: 'event',
      kinds: [],
    } as const
    const { key, value } = positionRecord({ ...position, plants: ['weir'], feeds: [] })
    worked.log.append(TOPICS.changelog, 0, { key, value: Buffer.from(value as string) })
    await open(worked)
    expect(String(worked.lost[0])).toContain(sentence)
    expect(worked.log.records(TOPICS.events)).toEqual([])
  })

  it('where the group has read what the changelog knows nothing of', async () => {
    const worked = start()
    append(worked, 4)
    const writer = await worked.log.openWriter('anybody')
    await writer.commit({ group: 'g', records: [], offsets: [{ topic: TOPICS.in, partition: 0, next: 3 }] })
    await open(worked)
    expect(String(worked.lost[0])).toContain('the group g has read in/0 up to 3, but changelog holds nothing of it')
  })
})

describe('a partition goes on', () => {
  it('behind messages that expired while no member ran, if every state was saved', async () => {
    const worked = start()
    append(worked, 4)
    await open(worked)
    await worked.deliver(0, TOPICS.in, 0, 100)
    await worked.clock.advance(1_000)
    await worked.leave(0)
    append(worked, 6)
    worked.log.expire(TOPICS.in, 0, 8)
    await open(worked)
    await worked.deliver(0, TOPICS.in, 0, 100)
    await worked.clock.advance(1_000)
    expect(worked.lost).toEqual([])
    expect(worked.log.committed(TOPICS.in, 0)).toBe(10)
  })
})

interface Case {
  readonly place?: number
  readonly partitions?: number
  readonly turns?: readonly Turn[]
  readonly first?: number
}

type Worked = ReturnType<typeof start>

function start() {
  return workedLog({ core: historyCore, files, partitions: 1, keys: 'refuse', ticks: 'event' })
}

function append({ log }: Worked, count: number): void {
  for (let n = 0; n < count; n++) log.append(TOPICS.in, 0, { key: 'weir', value: Buffer.from(reading(n)) })
}

async function open(worked: Worked): Promise<void> {
  worked.takeOver(0)
  await worked.clock.settle()
}
