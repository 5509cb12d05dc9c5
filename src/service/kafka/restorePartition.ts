import { LastingError, type LogRecord, type PartitionLog } from '../../adapters/kafka/partitionLog.js'
import type { RegisterMessage } from '../../model/messages.js'
import type { RegisterFile } from '../../model/register.js'
import type { Core } from '../plantRunner.js'
import { createChangelogReader, type LoadedChangelog, type PositionEntry } from './changelog.js'
import type { MemberSettings } from './memberSettings.js'
import {
  createPartitionState,
  hasOtherRegister,
  inputTopics,
  type PartitionState,
  tickInput,
} from './partitionState.js'
import type { Place, PlaceTopic } from './place.js'
import { type PlantDirectory, recordSorter } from './plantOfRecord.js'
import { createPlantWork, type PlantWork } from './plantWork.js'
import { recordInput } from './recordInput.js'

export interface RestoreOptions<S> {
  readonly partition: number
  readonly log: Pick<PartitionLog, 'read' | 'bounds' | 'committedOffset'>
  readonly core: Core<S>
  readonly registerMessage: (file: RegisterFile, before: RegisterFile | undefined) => RegisterMessage
  readonly settings: MemberSettings
  readonly directory: PlantDirectory
  readonly atMs: number
  /** Lets timers and sockets have their turn. */
  readonly breathe: () => Promise<void>
  readonly refused: (reason: string) => void
  readonly expired: (topic: string, messages: number) => void
}

export interface Restored {
  readonly state: PartitionState
  /** Where the topics ended. */
  readonly ends: ReadonlyMap<PlaceTopic, number>
  readonly steppedAgain: number
  /** Plants that were given a register, or another one. */
  readonly registered: readonly string[]
}

/**
 * Brings the plants of a partition to where the last commit left them: each from its saved state, then through the
 * turns since then again, whose events are out already. Nobody else may be writing the partition any more. Then each
 * plant is given its register, where that is another.
 */
export async function restorePartition<S>(options: RestoreOptions<S>): Promise<Restored> {
  const { partition, log, core, settings, directory, atMs } = options
  const loaded = await loadChangelog(options)
  const bounds = new Map<PlaceTopic, { first: number; end: number }>()
  for (const [topic, name] of inputTopics(settings)) bounds.set(topic, await log.bounds(name, partition))
  const { position } = loaded
  const first: Place = { in: bounds.get('in')!.first, rekeyed: bounds.get('rekeyed')?.first ?? 0, tick: 0 }
  if (position === undefined) await refuseLostChangelog(options, first)
  else checkPosition(position, bounds, options)

  const plants = new Map<string, PlantWork>()
  for (const plant of directory.plantsOf(partition)) {
    plants.set(
      plant,
      lastingly(plant, () => createPlantWork(core, plant, loaded.plants.get(plant), atMs)),
    )
  }
  const steppedAgain = position === undefined ? 0 : await stepAgain(position, plants, options)
  const state = createPartitionState({
    ...options,
    plants,
    place: position?.place ?? first,
    turns: position?.turns ?? [],
    feeds: position?.feeds ?? [],
  })
  for (const [topic, { first: kept }] of bounds) {
    const missing = kept - state.place()[topic]
    if (missing <= 0) continue
    options.expired(settings.topics[topic], missing)
    state.jump(topic, kept)
  }
  const registered: string[] = []
  for (const [plant, work] of plants) {
    const file = directory.fileOf(plant)
    if (!hasOtherRegister(work, file)) continue
    lastingly(plant, () => state.register(plant, file, options.registerMessage(file, work.register())))
    registered.push(plant)
  }
  return { state, ends: new Map([...bounds].map(([topic, { end }]) => [topic, end])), steppedAgain, registered }
}

async function loadChangelog<S>({ log, settings, partition }: RestoreOptions<S>): Promise<LoadedChangelog> {
  const topic = settings.topics.changelog
  const { first, end } = await log.bounds(topic, partition)
  const reader = createChangelogReader()
  await log.read(topic, partition, { from: first, to: end }, reader.take)
  return reader.loaded()
}

/** Every commit writes both, so a group that has read something and a changelog that knows nothing do not fit. */
async function refuseLostChangelog<S>(options: RestoreOptions<S>, first: Place): Promise<void> {
  const { log, settings, partition } = options
  const { group, topics } = settings
  const committed = await log.committedOffset(group, topics.in, partition)
  if (committed === undefined || committed <= first.in) return
  throw new LastingError(
    `the group ${group} has read ${topics.in}/${String(partition)} up to ${String(committed)}, but ${topics.changelog} holds nothing of it: ` +
      'bring the changelog back, or begin anew with another group and new topics for changelog and events',
  )
}

function checkPosition<S>(
  { place, turns, partitions }: PositionEntry,
  bounds: ReadonlyMap<PlaceTopic, { readonly first: number; readonly end: number }>,
  { settings, partition }: RestoreOptions<S>,
): void {
  if (partitions !== settings.partitions) {
    throw new LastingError(
      `${settings.topics.in} has ${String(settings.partitions)} partitions and had ${String(partitions)} when the state was written: ` +
        'plants would lose their state; make a topic with the old number, or begin anew with another group and new topics',
    )
  }
  for (const [topic, { first, end }] of bounds) {
    const name = `${settings.topics[topic]}/${String(partition)}`
    if (end < place[topic]) {
      throw new LastingError(
        `${name} ends at ${String(end)}, before ${String(place[topic])}, up to where it was worked: it was made anew; begin anew with another group and new topics for changelog and events`,
      )
    }
    const from = turns.find(turn => 'topic' in turn && turn.topic === topic)
    if (from !== undefined && 'topic' in from && first > from.from) {
      throw new LastingError(
        `${name} begins at ${String(first)}, after ${String(from.from)}, from where it has to be worked again: the messages between have expired while no member ran; ` +
          'begin anew with another group and new topics, and give the topic a longer retention.ms',
      )
    }
  }
}

/** Ever so many inputs the process breathes. */
const INPUTS_AT_ONCE = 500

/** Steps the turns again, each plant from where its saved state ends. @returns how many inputs were stepped */
async function stepAgain<S>(
  { turns, ticks, kinds, place: end, plants: known }: PositionEntry,
  all: ReadonlyMap<string, PlantWork>,
  options: RestoreOptions<S>,
): Promise<number> {
  const { log, settings, partition, directory } = options
  const plants = new Map([...all].filter(([plant]) => known.includes(plant)))
  const sort = recordSorter(directory, partition, 'refuse')
  const place = { ...end, ...beginOf(turns, end) }
  const placeNow = (): Place => ({ ...place })
  let stepped = 0
  const again = (topic: PlaceTopic) => async (records: readonly LogRecord[]) => {
    for (const record of records) {
      place[topic] = record.offset
      const destination = sort(record)
      const work = destination.to === 'plant' ? plants.get(destination.plant) : undefined
      if (work?.lacks(topic, record.offset) !== true) continue
      work.touch(placeNow)
      lastingly(placeName(settings, topic, partition, record.offset), () =>
        work.take(
          recordInput(record, { ticks, kinds }, () => placeName(settings, topic, partition, record.offset)),
          ticks,
          () => {},
        ),
      )
      if (++stepped % INPUTS_AT_ONCE === 0) await options.breathe()
    }
  }
  for (const turn of turns) {
    if ('topic' in turn) {
      place[turn.topic] = turn.from
      await log.read(settings.topics[turn.topic], partition, turn, again(turn.topic))
      place[turn.topic] = turn.to
      continue
    }
    place.tick = turn.tick
    for (const work of plants.values()) {
      if (!work.lacks('tick', turn.tick)) continue
      work.touch(placeNow)
      work.take(tickInput(turn.time, turn.feedsDown), ticks, () => {})
      stepped++
    }
    place.tick++
  }
  // What follows is worked in another way, so no later start could step both.
  const isOther = ticks !== settings.ticks || kinds.join() !== settings.kinds.join()
  if (isOther) for (const work of plants.values()) if (work.unsaved() !== undefined) work.saveSoon()
  return stepped
}

/** The place before the first of some turns. @param end the place after the last */
function beginOf(turns: PositionEntry['turns'], end: Place): Place {
  const begin = { ...end }
  for (const turn of [...turns].reverse()) {
    if ('tick' in turn) begin.tick = turn.tick
    else begin[turn.topic] = turn.from
  }
  return begin
}

function placeName(settings: MemberSettings, topic: PlaceTopic, partition: number, offset: number): string {
  return `${settings.topics[topic]}/${String(partition)}@${String(offset)}`
}

/** What the core throws is a state it cannot read or a bug: trying again would end alike. */
function lastingly<T>(what: string, work: () => T): T {
  try {
    return work()
  } catch (error) {
    throw new LastingError(`${what}: ${error instanceof Error ? error.message : String(error)}`, { cause: error })
  }
}
