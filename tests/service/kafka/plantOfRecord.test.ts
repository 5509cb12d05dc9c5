import { Buffer } from 'node:buffer'
import { describe, expect, it } from 'vitest'
import { keyPartition } from '../../../src/adapters/kafka/keyPartition.js'
import type { LogRecord } from '../../../src/adapters/kafka/partitionLog.js'
import { plantDirectory, recordSorter } from '../../../src/service/kafka/plantOfRecord.js'

const PARTITIONS = 4
const files = [
  { plant: 'north', points: { FE1: { analyzers: { 'FE1-A': unit(), 'N-A': unit() } } } },
  { plant: 'south', points: { FE1: { analyzers: { 'FE1-A': unit() } }, SW: { analyzers: { 'SW-A': unit() } } } },
]
const directory = plantDirectory(files, PARTITIONS)
const home = (plant: string) => keyPartition(plant, PARTITIONS)

describe('where a record goes', () => {
  it('is its plant where key and partition are right', () => {
    const sort = recordSorter(directory, home('north'), 'refuse')
    for (let n = 0; n < 3; n++) expect(sort(record('north', '{}'))).toEqual({ to: 'plant', plant: 'north' })
  })

  it('is nowhere where they are not, with what to do', () => {
    const sort = recordSorter(directory, (home('north') + 1) % PARTITIONS, 'refuse')
    expect(sort(record('north', '{}'))).toMatchObject({ to: 'nobody', reason: 'partition_of_another_key' })
    expect(sort(record('FE1-A', '{}'))).toMatchObject({ to: 'nobody', reason: 'key_is_no_plant' })
    expect(sort(record(null, '{}'))).toMatchObject({ to: 'nobody', fault: { field: 'key', value: 'nothing' } })
  })

  it.each([
    ['the plant its key names, from a wrong partition', 'south', '{}', 'south'],
    ['the plant that alone has the analyzer', 'gateway', '{"kind":"reading","analyzer":"SW-A"}', 'south'],
    [
      'the plant that alone has the analyzer, whatever else the point says',
      'gateway',
      '{"analyzer":"N-A","point":"SW"}',
      'north',
    ],
    ['the plant that alone has the point', null, '{"kind":"grab","point":"SW"}', 'south'],
  ])('is by another key %s', (_what, key, value, plant) => {
    const sort = recordSorter(
      directory,
      [0, 1, 2, 3].find(partition => partition !== home('south') && partition !== home('north'))!,
      'rekey',
    )
    expect(sort(record(key, value))).toEqual({ to: 'elsewhere', plant, partition: home(plant) })
  })

  it.each([
    ['two plants have the analyzer', '{"kind":"reading","analyzer":"FE1-A"}'],
    ['nobody has it', '{"kind":"reading","analyzer":"XX"}'],
    ['it names none', '{"kind":"response"}'],
    ['it cannot be read', '{"kind":'],
    ['it is no object', '7'],
  ])('is nowhere where %s', (_what, value) => {
    const sort = recordSorter(directory, 0, 'rekey')
    expect(sort(record('gateway', value))).toMatchObject({ to: 'nobody', reason: 'key_is_no_plant' })
  })
})

function unit() {
  return { unit: 'NTU' as const }
}

function record(key: string | null, value: string): LogRecord {
  return {
    offset: 0,
    timestampMs: 0,
    headers: {},
    key: key === null ? null : Buffer.from(key),
    value: Buffer.from(value),
  }
}
