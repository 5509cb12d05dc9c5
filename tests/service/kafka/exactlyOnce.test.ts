import { Buffer } from 'node:buffer'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { keyPartition } from '../../../src/adapters/kafka/keyPartition.js'
import { parseMessageBytes } from '../../../src/adapters/payload.js'
import type { RegisterFile } from '../../../src/model/register.js'
import { createPlantRunner } from '../../../src/service/plantRunner.js'
import { fakeRegisterMessage, reading } from '../fakeCore.js'
import { historyCore, type HistoryState } from './historyCore.js'
import type { CommitFate } from './memoryLog.js'
import { TOPICS, workedLog } from './workedLog.js'

const PARTITIONS = 2
/** So many that not all states are saved with the same commit. */
const PLANTS = ['elm', 'birch', 'alder', 'cedar', ...Array.from({ length: 8 }, (_, n) => `oak-${String(n)}`)]
const RUNS = 80
/** There only to end a broken test. */
const DEADLINE_MS = 120_000
/** Readings of each plant. */
const READINGS = 16
const BROKEN = Buffer.from('{"kind":')
/** It comes after so many readings of birch. */
const BROKEN_AFTER = 11
const files: readonly RegisterFile[] = PLANTS.map((plant, index) => ({
  plant,
  points: { [`P${String(index)}`]: { analyzers: { [`P${String(index)}-A`]: { unit: 'NTU' } } } },
}))

type Action =
  | {
      readonly do: 'deliver'
      readonly partition: number
      readonly count: number
      readonly who: number
      readonly topic: 'in' | 'rekeyed'
    }
  | { readonly do: 'advance'; readonly ms: number }
  | { readonly do: 'fate'; readonly fate: CommitFate }
  | { readonly do: 'failure'; readonly of: 'openWriter' | 'read' }
  | { readonly do: 'kill' | 'takeOver' | 'leave' | 'rewind'; readonly partition: number }
  | { readonly do: 'skip'; readonly partition: number; readonly count: number }

const partition = fc.nat({ max: PARTITIONS - 1 })
const action: fc.Arbitrary<Action> = fc.oneof(
  {
    weight: 8,
    arbitrary: fc.record({
      do: fc.constant('deliver' as const),
      partition,
      count: fc.integer({ min: 1, max: 40 }),
      who: fc.constantFrom(0, 0, 0, 1),
      topic: fc.constantFrom('in' as const, 'in' as const, 'rekeyed' as const),
    }),
  },
  {
    weight: 5,
    arbitrary: fc.record({
      do: fc.constant('advance' as const),
      ms: fc.constantFrom(1, 300, 600, 6_000, 31_000, 61_000),
    }),
  },
  {
    weight: 3,
    arbitrary: fc.record({
      do: fc.constant('fate' as const),
      fate: fc.constantFrom<CommitFate[]>('well', 'fails', 'answer lost', 'pending'),
    }),
  },
  {
    weight: 1,
    arbitrary: fc.record({
      do: fc.constant('failure' as const),
      of: fc.constantFrom('openWriter' as const, 'read' as const),
    }),
  },
  {
    weight: 3,
    arbitrary: fc.record({
      do: fc.constantFrom('kill' as const, 'takeOver' as const, 'leave' as const, 'rewind' as const),
      partition,
    }),
  },
)
const actions = fc.array(action, { minLength: 10, maxLength: 60 })

describe('plants worked over a log', () => {
  it(
    'publish exactly the events of the unbroken run, whatever dies, fails or changes hands',
    async () => {
      await fc.assert(
        fc.asyncProperty(actions, async list => {
          const worked = await run(list, 'event', 'refuse')
          expect(worked.lost).toEqual([])
          for (const plant of PLANTS) expect(eventsOf(worked, plant)).toEqual(unbroken(plant))
          expect(positionsOf(worked)).toEqual(expectedLetters('refuse'))
        }),
        { seed: 20261128, numRuns: RUNS },
      )
    },
    DEADLINE_MS,
  )

  it(
    'and so does the plant whose messages have to be keyed again first',
    async () => {
      await fc.assert(
        fc.asyncProperty(actions, async list => {
          const worked = await run(list, 'event', 'rekey')
          expect(worked.lost).toEqual([])
          for (const plant of PLANTS) expect(eventsOf(worked, plant)).toEqual(unbroken(plant))
          expect(positionsOf(worked)).toEqual(expectedLetters('rekey'))
          expect(worked.log.records(TOPICS.rekeyed)).toHaveLength(READINGS)
        }),
        { seed: 20261129, numRuns: RUNS },
      )
    },
    DEADLINE_MS,
  )

  it(
    'publish exactly what their saved history makes where ticks come from the clock and two topics are worked',
    async () => {
      await fc.assert(
        fc.asyncProperty(actions, async list => {
          const worked = await run(list, 'clock', 'rekey')
          expect(worked.lost).toEqual([])
          for (const plant of PLANTS) {
            const { history } = savedState(worked, plant)
            expect(eventsOf(worked, plant)).toEqual(eventsAfter(plant, history, 'recorded'))
            const readings = history.filter(message => (message as { kind: string }).kind === 'reading')
            expect(readings).toEqual(readingsOf(plant))
          }
        }),
        { seed: 20261130, numRuns: RUNS },
      )
    },
    DEADLINE_MS,
  )
})

type Worked = Awaited<ReturnType<typeof run>>

async function run(list: readonly Action[], ticks: 'clock' | 'event', keys: 'refuse' | 'rekey') {
  const worked = workedLog({ core: historyCore, files, partitions: PARTITIONS, keys, ticks })
  const { log, clock } = worked
  const queue = messages(keys)
  const feed = (count: number): void => {
    for (const { partition, key, value } of queue.splice(0, count)) log.append('in', partition, { key, value })
    log.appendMarker('in', count % PARTITIONS)
  }
  for (let partition = 0; partition < PARTITIONS; partition++) worked.takeOver(partition)
  await clock.settle()
  for (const one of list) {
    feed(7)
    if (one.do === 'deliver') await worked.deliver(one.who, one.topic, one.partition, one.count)
    else if (one.do === 'advance') await clock.advance(one.ms)
    else if (one.do === 'fate') log.fates.push(one.fate)
    else if (one.do === 'failure') log.failures[one.of]++
    else if (one.do === 'rewind') worked.rewind(one.partition)
    else if (one.do === 'skip') worked.skip(one.partition, one.count)
    else {
      if (one.do === 'kill') worked.kill(one.partition)
      if (one.do === 'leave') await worked.leave(one.partition)
      worked.takeOver(one.partition)
      await clock.settle()
    }
  }
  // In the end everything works, and is worked to the end by whoever holds it then.
  log.fates.length = 0
  log.failures.openWriter = log.failures.read = 0
  feed(queue.length)
  for (let partition = 0; partition < PARTITIONS; partition++) worked.takeOver(partition)
  for (let round = 0; round < 12; round++) {
    await clock.advance(1_000)
    for (let partition = 0; partition < PARTITIONS; partition++) {
      await worked.deliver(0, 'in', partition, 1_000)
      if (keys === 'rekey') await worked.deliver(0, 'rekeyed', partition, 1_000)
    }
  }
  for (let partition = 0; partition < PARTITIONS; partition++) await worked.leave(partition)
  return worked
}

/** Plants in turns. The last one's writer does not know its plant, unless nothing is keyed again. */
function messages(keys: 'refuse' | 'rekey') {
  const list = Array.from({ length: READINGS }, (_, n) =>
    PLANTS.map((plant, index) => {
      const isKeyedWrong = keys === 'rekey' && plant === 'elm'
      const key = isKeyedWrong ? 'gateway' : plant
      const analyzer = `P${String(index)}-A`
      const value = Buffer.from(reading(n).replace('P-A', analyzer))
      return { partition: keyPartition(key, PARTITIONS), key, value }
    }),
  ).flat()
  const strange = { partition: 0, key: 'nowhere', value: Buffer.from(reading(0)) }
  const misplaced = {
    partition: 1 - keyPartition('alder', PARTITIONS),
    key: 'alder',
    value: Buffer.from(reading(3).replace('P-A', 'P2-A')),
  }
  const broken = { partition: keyPartition('birch', PARTITIONS), key: 'birch', value: BROKEN }
  list.splice(20, 0, strange)
  if (keys === 'refuse') list.splice(40, 0, misplaced)
  const after = list.findIndex(({ value }) => value.equals(birchReading(BROKEN_AFTER)))
  list.splice(after, 0, broken)
  return list
}

function birchReading(n: number): Buffer {
  return Buffer.from(reading(n).replace('P-A', 'P1-A'))
}

function expectedLetters(keys: 'refuse' | 'rekey'): string[] {
  return ['key_is_no_plant', 'malformed_json', ...(keys === 'refuse' ? ['partition_of_another_key'] : [])]
}

function positionsOf({ log }: Worked): string[] {
  return log
    .records(TOPICS.deadLetters)
    .map(({ value }) => (JSON.parse(value!.toString()) as { reason: string }).reason)
    .sort()
}

function eventsOf({ log }: Worked, plant: string): string[] {
  return log
    .records(TOPICS.events)
    .filter(({ key }) => key?.toString() === plant)
    .map(({ value }) => value!.toString())
}

function readingsOf(plant: string): unknown[] {
  const analyzer = `P${String(PLANTS.indexOf(plant))}-A`
  return Array.from({ length: READINGS }, (_, n) => JSON.parse(reading(n).replace('P-A', analyzer)) as unknown)
}

/** Events of one process that takes the messages one after the other. */
function unbroken(plant: string): string[] {
  const messages: unknown[] = [fakeRegisterMessage(files[PLANTS.indexOf(plant)]!, undefined), ...readingsOf(plant)]
  if (plant === 'birch') messages.splice(BROKEN_AFTER + 1, 0, parsedBroken())
  return eventsAfter(plant, messages, 'event')
}

function eventsAfter(plant: string, messages: readonly unknown[], ticks: 'event' | 'recorded'): string[] {
  const options = { core: historyCore, ticks, lastSeq: 0, prefix: 'turbidrift', softwareVersion: '0.0.0' }
  const runner = createPlantRunner(historyCore.create(plant), options)
  return runner.advance(messages.map(message => ({ feed: 'kafka', message }))).events.map(event => event.body)
}

function parsedBroken(): unknown {
  const parsed = parseMessageBytes(BROKEN)
  if (parsed.ok) throw new Error('it should be broken')
  return parsed.rejected
}

function savedState({ log }: Worked, plant: string): HistoryState {
  const rows = log.records(TOPICS.changelog).filter(({ key }) => key?.toString() === `row/${plant}/history/0`)
  return JSON.parse(rows.at(-1)!.value!.toString()) as HistoryState
}
