import type { LogRecord, OutRecord, Transaction } from '../../adapters/kafka/partitionLog.js'
import { canonicalJson } from '../../model/canonicalJson.js'
import type { PlantEvent } from '../../model/events.js'
import type { RegisterMessage } from '../../model/messages.js'
import type { RegisterFile } from '../../model/register.js'
import { positionRecord } from './changelog.js'
import { deadLetterRecord, eventRecord, refusedInput } from './outgoing.js'
import type { MemberSettings } from './memberSettings.js'
import { addStretch, comparePlaces, type Place, type PlaceTopic, type Turn, turnsAfter } from './place.js'
import { type PlantDirectory, recordSorter } from './plantOfRecord.js'
import type { PlantWork } from './plantWork.js'
import { beginning, DEFAULT_FEED, recordInput } from './recordInput.js'

/** The plants of one partition with what they have taken and not yet committed. Knows no log and no time of its own. */
export interface PartitionState {
  readonly place: () => Place
  /** Records of a topic in order, none of them taken before. */
  readonly take: (topic: PlaceTopic, records: readonly LogRecord[]) => void
  /** Goes on behind what holds no records: markers, aborted transactions. */
  readonly pass: (topic: PlaceTopic, next: number) => void
  /** Goes on behind what is no longer there. */
  readonly jump: (topic: PlaceTopic, next: number) => void
  readonly tick: (time: string, isBehind: boolean) => void
  readonly register: (plant: string, file: RegisterFile, message: RegisterMessage) => void
  /** Inputs that no transaction has yet. */
  readonly waiting: () => number
  /** When the next state is to be saved; undefined where all are. */
  readonly nextSaveMs: () => number | undefined
  /** All that waits, as one transaction. @param all save every state that changed, as before leaving */
  readonly cut: (atMs: number, all: boolean) => Transaction
}

export interface PartitionStateOptions {
  readonly partition: number
  readonly settings: MemberSettings
  readonly directory: PlantDirectory
  readonly plants: ReadonlyMap<string, PlantWork>
  readonly place: Place
  readonly turns: readonly Turn[]
  readonly feeds: readonly string[]
  readonly refused: (reason: string) => void
}

/** States are large, so not all that are due are written with one commit. */
const SAVES_A_COMMIT = 4
const MOST_FEEDS = 1_000

export function createPartitionState(options: PartitionStateOptions): PartitionState {
  const { partition, settings, plants } = options
  const { topics, ticks } = settings
  const place = { ...options.place }
  const feeds = new Set(options.feeds)
  const sorters = {
    in: recordSorter(options.directory, partition, settings.keys),
    // What was forwarded once and still lies wrong would go in circles.
    rekeyed: recordSorter(options.directory, partition, 'refuse'),
  }
  let turns = [...options.turns]
  let records: OutRecord[] = []
  let waiting = 0

  const placeNow = (): Place => ({ ...place })
  const tell = (event: PlantEvent): void => {
    records.push(eventRecord(topics.events, event, settings))
  }
  const refuse = (key: string, letter: Parameters<typeof deadLetterRecord>[2]): void => {
    options.refused(letter.reason)
    records.push(deadLetterRecord(topics.deadLetters, key, letter))
  }

  const takeOne = (topic: PlaceTopic, record: LogRecord): void => {
    const position = (): string => `${topics[topic]}/${String(partition)}@${String(record.offset)}`
    const destination = sorters[topic](record)
    if (destination.to === 'plant') {
      const input = recordInput(record, settings, position)
      const work = plants.get(destination.plant)!
      work.touch(placeNow)
      const outcome = work.take(input, ticks, tell)
      if (outcome.kind === 'rejected')
        refuse(destination.plant, refusedInput(input, outcome.faults ?? [], record, position()))
      if (!feeds.has(input.feed) && feeds.size < MOST_FEEDS) feeds.add(input.feed)
    } else if (destination.to === 'elsewhere') {
      records.push({
        topic: topics.rekeyed,
        partition: destination.partition,
        key: destination.plant,
        value: record.value,
        headers: { ...feedHeader(record), origin: position() },
        timestampMs: record.timestampMs,
      })
    } else {
      const { reason, fault } = destination
      const excerpt = beginning(record.value)
      // Keys of any writer's choice would be as many requests.
      refuse(`${topics[topic]}/${String(partition)}`, {
        reason,
        faults: [fault],
        excerpt,
        feed: feedHeader(record).feed ?? DEFAULT_FEED,
        position: position(),
      })
    }
    place[topic] = record.offset + 1
  }

  const oldestUnsaved = (): Place | undefined =>
    [...plants.values()]
      .flatMap(work => work.unsaved()?.since ?? [])
      .reduce<Place | undefined>((a, b) => (a === undefined || comparePlaces(b, a) < 0 ? b : a), undefined)

  return {
    place: placeNow,
    take: (topic, taken) => {
      const from = place[topic]
      for (const record of taken) takeOne(topic, record)
      waiting += taken.length
      if (place[topic] > from) addStretch(turns, topic, from, place[topic])
    },
    pass: (topic, next) => {
      if (next <= place[topic]) return
      addStretch(turns, topic, place[topic], next)
      place[topic] = next
    },
    jump: (topic, next) => {
      place[topic] = Math.max(place[topic], next)
    },
    tick: (time, isBehind) => {
      const feedsDown = isBehind ? [...feeds].sort() : []
      turns.push({ tick: place.tick, time, feedsDown })
      for (const work of plants.values()) {
        work.touch(placeNow)
        work.take(tickInput(time, feedsDown), ticks, tell)
      }
      place.tick++
      waiting++
    },
    register: (plant, file, message) => {
      const work = plants.get(plant)!
      work.touch(placeNow)
      work.take({ feed: 'service', message }, ticks, tell)
      work.setRegister(file)
      // It stands in no topic, so nobody could take it again: the state that has it is saved with it.
      work.saveSoon()
      waiting++
    },
    waiting: () => waiting,
    nextSaveMs: () => {
      const due = [...plants.values()].flatMap(work => work.dueMs() ?? [])
      return due.length === 0 ? undefined : Math.min(...due)
    },
    cut: (atMs, all) => {
      const written = records
      records = []
      waiting = 0
      let saves = 0
      for (const work of plants.values()) {
        const dueMs = work.dueMs()
        if (dueMs === undefined || (!all && dueMs > atMs)) continue
        if (!all && dueMs !== Number.NEGATIVE_INFINITY && ++saves > SAVES_A_COMMIT) continue
        for (const record of work.save(placeNow(), atMs))
          written.push({ topic: topics.changelog, partition, ...record })
      }
      const since = oldestUnsaved()
      turns = since === undefined ? [] : turnsAfter(turns, since)
      const { partitions, kinds } = settings
      const known = { plants: [...plants.keys()], feeds: [...feeds].sort() }
      const position = positionRecord({ place: placeNow(), turns, partitions, ticks, kinds, ...known })
      written.push({ topic: topics.changelog, partition, ...position })
      return {
        group: settings.group,
        records: written,
        offsets: inputTopics(settings).map(([topic, name]) => ({ topic: name, partition, next: place[topic] })),
      }
    },
  }
}

/** The topics a member reads, as places name them and as the log does. */
export function inputTopics({ topics, keys }: MemberSettings): readonly (readonly [PlaceTopic, string])[] {
  return keys === 'rekey'
    ? [
        ['in', topics.in],
        ['rekeyed', topics.rekeyed],
      ]
    : [['in', topics.in]]
}

export function tickInput(time: string, feedsDown: readonly string[]) {
  return { feed: 'clock', message: { kind: 'tick', time, ...(feedsDown.length === 0 ? {} : { feedsDown }) } }
}

/** True where a plant was given another register than this one, or none. */
export function hasOtherRegister(work: PlantWork, file: RegisterFile): boolean {
  const before = work.register()
  return before === undefined || canonicalJson(before) !== canonicalJson(file)
}

function feedHeader({ headers }: LogRecord): { feed?: string } {
  const { feed } = headers
  return feed instanceof Uint8Array || typeof feed === 'string' ? { feed: feed.toString() } : {}
}
