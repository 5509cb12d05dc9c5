import type { PlantEvent } from '../../model/events.js'
import { contentHash } from '../../model/identity.js'
import type { RecordedInput } from '../../model/recordedInput.js'
import type { RegisterFile } from '../../model/register.js'
import type { OutRecord } from '../../adapters/kafka/partitionLog.js'
import { CLOCK_FEED, type Core, type Stepped } from '../plantRunner.js'
import { type LoadedPlant, partsOf, plantRecord, rowRecords } from './changelog.js'
import type { Place } from './place.js'

/** One plant as a partition works it: its state, and what the changelog has of that. */
export interface PlantWork {
  /**
   * Steps an input, and the ticks that are due by the times of the messages where plant time follows those.
   * @param told takes the events
   */
  readonly take: (
    input: RecordedInput,
    ticks: 'clock' | 'event',
    told: (event: PlantEvent) => void,
  ) => Stepped<unknown>['outcome']
  /** Notes that an input was taken which the saved state lacks. @param before the place it was taken at */
  readonly touch: (before: () => Place) => void
  readonly unsaved: () => { readonly since: Place; readonly inputs: number } | undefined
  /** True for a place after the saved state; a plant without one has taken nothing. */
  readonly lacks: (part: keyof Place, value: number) => boolean
  readonly register: () => RegisterFile | undefined
  /** To be saved with the next commit whatever the time. */
  readonly saveSoon: () => void
  /** When the state is to be saved: undefined where it is, minus infinity at once. */
  readonly dueMs: () => number | undefined
  /** Records for what changed in the state since it was saved last, which is then now. */
  readonly save: (place: Place, atMs: number) => readonly Pick<OutRecord, 'key' | 'value'>[]
  readonly setRegister: (file: RegisterFile) => void
}

/** A state is saved at most so often: the input topic is the journal, and this bounds how much of it is worked again. */
export const SAVE_EVERY_MS = 30_000
export const SAVE_EVERY_INPUTS = 50_000

export function createPlantWork<S>(
  core: Core<S>,
  plant: string,
  loaded: LoadedPlant | undefined,
  atMs: number,
): PlantWork {
  let state = loaded === undefined ? core.create(plant) : core.restore(loaded.texts)
  let register = loaded?.register
  let savedPlace = loaded?.place
  let savedMs = atMs
  let isWanted = false
  let unsaved: { since: Place; inputs: number } | undefined
  const hashes = new Map([...(loaded?.texts ?? [])].map(([row, text]) => [row, contentHash(text)]))
  const parts = new Map(Object.entries(loaded?.rows ?? {}))

  const step = (input: RecordedInput, told: (event: PlantEvent) => void): Stepped<S>['outcome'] => {
    const stepped = core.step(state, input)
    state = stepped.state
    for (const event of stepped.events) told(event)
    return stepped.outcome
  }
  return {
    take: (input, ticks, told) => {
      const outcome = step(input, told)
      if (ticks === 'clock') return outcome
      for (let due = core.dueTick(state); due !== undefined; due = core.dueTick(state)) {
        step({ feed: CLOCK_FEED, message: due }, told)
      }
      return outcome
    },
    touch: before => {
      if (unsaved === undefined) unsaved = { since: before(), inputs: 1 }
      else unsaved.inputs++
    },
    unsaved: () => unsaved,
    lacks: (part, value) => savedPlace !== undefined && value >= savedPlace[part],
    register: () => register,
    setRegister: file => (register = file),
    saveSoon: () => (isWanted = true),
    dueMs: () => {
      if (isWanted) return Number.NEGATIVE_INFINITY
      if (unsaved === undefined) return undefined
      return unsaved.inputs >= SAVE_EVERY_INPUTS ? Number.NEGATIVE_INFINITY : savedMs + SAVE_EVERY_MS
    },
    save: (place, nowMs) => {
      const rows = core.serialise(state)
      const records: Pick<OutRecord, 'key' | 'value'>[] = []
      for (const [row, text] of rows) {
        const hash = contentHash(text)
        if (hashes.get(row) === hash) continue
        records.push(...rowRecords(plant, row, text, parts.get(row) ?? 0))
        hashes.set(row, hash)
        parts.set(row, partsOf(text))
      }
      for (const [row, count] of [...parts]) {
        if (rows.has(row)) continue
        for (let part = 0; part < count; part++)
          records.push({ key: `row/${plant}/${row}/${String(part)}`, value: null })
        parts.delete(row)
        hashes.delete(row)
      }
      savedPlace = place
      savedMs = nowMs
      unsaved = undefined
      isWanted = false
      records.push(plantRecord(plant, { place, register: register!, rows: Object.fromEntries(parts) }))
      return records
    },
  }
}
