import { type LogRecord, LastingError, type OutRecord } from '../../adapters/kafka/partitionLog.js'
import { canonicalJson } from '../../model/canonicalJson.js'
import type { FeedKind } from '../../model/messages.js'
import type { RegisterFile } from '../../model/register.js'
import type { Place, Turn } from './place.js'

/**
 * What a partition of the changelog holds, by key:
 * `position` how far the partition has been worked, and the turns since the oldest state that lacks one;
 * `plant/<plant>` the place a plant's state includes, its rows, and the register it was given;
 * `row/<plant>/<row>/<part>` the rows of the state, long ones in parts.
 * Whatever belongs together is written in one transaction, so a reader at read-committed always finds it whole.
 */
export interface PositionEntry {
  readonly place: Place
  readonly turns: readonly Turn[]
  /** How many partitions the input had: with another number plants belong elsewhere. */
  readonly partitions: number
  /** How the turns were worked; worked again they must be worked alike. */
  readonly ticks: 'clock' | 'event'
  readonly kinds: readonly FeedKind[]
  /** Plants of the partition that whoever wrote this knew; messages of any other were refused. */
  readonly plants: readonly string[]
  /** Feeds that messages came by. */
  readonly feeds: readonly string[]
}

export interface PlantEntry {
  readonly place: Place
  readonly register: RegisterFile
  /** Number of parts of each row. */
  readonly rows: Readonly<Record<string, number>>
}

export interface LoadedPlant extends PlantEntry {
  readonly texts: ReadonlyMap<string, string>
}

export interface LoadedChangelog {
  readonly position: PositionEntry | undefined
  readonly plants: ReadonlyMap<string, LoadedPlant>
}

const VERSION = 1
const POSITION_KEY = 'position'
/** Below what brokers take for one record, with room for its key. Characters: rows are ASCII but for names. */
const PART_LENGTH = 400_000

export function positionRecord(entry: PositionEntry): Pick<OutRecord, 'key' | 'value'> {
  return { key: POSITION_KEY, value: canonicalJson({ version: VERSION, ...entry }) }
}

export function plantRecord(plant: string, entry: PlantEntry): Pick<OutRecord, 'key' | 'value'> {
  return { key: `plant/${plant}`, value: canonicalJson({ version: VERSION, ...entry }) }
}

/** The records of one row that changed. @param partsBefore how many it had; those too many are removed */
export function rowRecords(
  plant: string,
  row: string,
  text: string,
  partsBefore: number,
): Pick<OutRecord, 'key' | 'value'>[] {
  const parts = partsOf(text)
  const records = Array.from({ length: Math.max(parts, partsBefore) }, (_, part) => ({
    key: `row/${plant}/${row}/${String(part)}`,
    value: part < parts ? text.slice(part * PART_LENGTH, (part + 1) * PART_LENGTH) : null,
  }))
  return records
}

export function partsOf(text: string): number {
  return Math.max(1, Math.ceil(text.length / PART_LENGTH))
}

/** Takes the records of a partition in order and gives what they say in the end. */
export function createChangelogReader() {
  const values = new Map<string, string>()
  return {
    take: (records: readonly LogRecord[]): void => {
      for (const { key, value } of records) {
        if (key === null) continue
        if (value === null) values.delete(key.toString('utf8'))
        else values.set(key.toString('utf8'), value.toString('utf8'))
      }
    },
    loaded: (): LoadedChangelog => {
      const position = values.get(POSITION_KEY)
      const plants = new Map<string, LoadedPlant>()
      for (const [key, value] of values) {
        if (!key.startsWith('plant/')) continue
        const plant = key.slice('plant/'.length)
        plants.set(plant, loadedPlant(plant, readVersion(key, value) as PlantEntry, values))
      }
      return {
        position: position === undefined ? undefined : (readVersion(POSITION_KEY, position) as PositionEntry),
        plants,
      }
    },
  }
}

function loadedPlant(plant: string, entry: PlantEntry, values: ReadonlyMap<string, string>): LoadedPlant {
  const texts = new Map<string, string>()
  for (const [row, parts] of Object.entries(entry.rows)) {
    let text = ''
    for (let part = 0; part < parts; part++) {
      const value = values.get(`row/${plant}/${row}/${String(part)}`)
      if (value === undefined) {
        throw new LastingError(
          `the changelog lacks a part of row "${row}" of ${plant}: its topic must be compacted only, never deleted from`,
        )
      }
      text += value
    }
    texts.set(row, text)
  }
  return { ...entry, texts }
}

function readVersion(key: string, value: string): unknown {
  const { version, ...entry } = JSON.parse(value) as { version: number }
  if (version === VERSION) return entry
  throw new LastingError(
    `the changelog's "${key}" has version ${String(version)}; this software knows ${String(VERSION)}`,
  )
}
