import type { Buffer } from 'node:buffer'
import { keyPartition } from '../../adapters/kafka/keyPartition.js'
import type { LogRecord } from '../../adapters/kafka/partitionLog.js'
import { parseMessageBytes } from '../../adapters/payload.js'
import { type Fault, showValue } from '../../model/faults.js'
import type { RegisterFile } from '../../model/register.js'

/** Where a record goes: to a plant of this partition, to the partition of another, or nowhere. */
export type Destination =
  | { readonly to: 'plant'; readonly plant: string }
  | { readonly to: 'elsewhere'; readonly plant: string; readonly partition: number }
  | { readonly to: 'nobody'; readonly reason: KeyReason; readonly fault: Fault }

export const KEY_REASONS = ['key_is_no_plant', 'partition_of_another_key'] as const
export type KeyReason = (typeof KEY_REASONS)[number]

export interface PlantDirectory {
  /** The partition a plant belongs in; undefined where it is no plant of the registers. */
  readonly homeOf: (plant: string) => number | undefined
  readonly plantsOf: (partition: number) => readonly string[]
  readonly fileOf: (plant: string) => RegisterFile
  /** The one plant that has the analyzer or the point a message names. */
  readonly ownerOf: (message: unknown) => string | undefined
}

/** Which plants the registers have, where they belong, and what is whose. @param partitions of the input topic */
export function plantDirectory(files: readonly RegisterFile[], partitions: number): PlantDirectory {
  const byPlant = new Map(files.map(file => [file.plant, file]))
  const homes = new Map(files.map(({ plant }) => [plant, keyPartition(plant, partitions)]))
  const owners = { analyzer: new Map<string, string | undefined>(), point: new Map<string, string | undefined>() }
  // A name that two plants use says nothing.
  const note = (names: Map<string, string | undefined>, name: string, plant: string) =>
    names.set(name, names.has(name) && names.get(name) !== plant ? undefined : plant)
  for (const { plant, points } of files) {
    for (const [point, { analyzers }] of Object.entries(points)) {
      note(owners.point, point, plant)
      for (const analyzer of Object.keys(analyzers)) note(owners.analyzer, analyzer, plant)
    }
  }
  return {
    homeOf: plant => homes.get(plant),
    plantsOf: partition => [...homes].filter(([, home]) => home === partition).map(([plant]) => plant),
    fileOf: plant => byPlant.get(plant)!,
    ownerOf: message => {
      if (typeof message !== 'object' || message === null) return undefined
      const { analyzer, point } = message as { analyzer?: unknown; point?: unknown }
      if (typeof analyzer === 'string') return owners.analyzer.get(analyzer)
      return typeof point === 'string' ? owners.point.get(point) : undefined
    },
  }
}

/**
 * Sorts records by their key. A plant's state lives in one partition, so its messages must lie in that one: another
 * partition would make a second state, and the same event ids with other contents.
 * @param keys `rekey`: what lies wrong goes where it belongs, and what is keyed wrong to the plant that has the
 * analyzer or point it names
 */
export function recordSorter(
  directory: PlantDirectory,
  partition: number,
  keys: 'refuse' | 'rekey',
): (record: LogRecord) => Destination {
  let lastKey: Buffer | undefined
  let lastDestination: Destination | undefined
  return record => {
    const { key } = record
    if (key !== null && lastKey !== undefined && lastDestination !== undefined && lastKey.equals(key)) {
      return lastDestination
    }
    const text = key?.toString('utf8') ?? ''
    const home = directory.homeOf(text)
    if (home === partition) {
      lastKey = key ?? undefined
      return (lastDestination = { to: 'plant', plant: text })
    }
    const plant = home === undefined ? ownerOf(record) : text
    if (keys === 'rekey' && plant !== undefined) {
      return { to: 'elsewhere', plant, partition: directory.homeOf(plant)! }
    }
    if (home === undefined) {
      const rule = 'must be a plant of the registers'
      return { to: 'nobody', reason: 'key_is_no_plant', fault: keyFault(key === null ? undefined : text, rule) }
    }
    const rule = `belongs in partition ${String(home)}: the writer must choose partitions by murmur2 of the key, as the Java client does`
    return { to: 'nobody', reason: 'partition_of_another_key', fault: keyFault(text, rule) }
  }

  function ownerOf(record: LogRecord): string | undefined {
    if (keys === 'refuse' || record.value === null) return undefined
    const parsed = parseMessageBytes(record.value)
    return parsed.ok ? directory.ownerOf(parsed.value) : undefined
  }
}

function keyFault(key: string | undefined, rule: string): Fault {
  return { code: 'invalid_field', field: 'key', value: showValue(key), rule }
}
