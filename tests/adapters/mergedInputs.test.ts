import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { readMerged } from '../../src/adapters/mergedInputs.js'

const folder = mkdtempSync(join(tmpdir(), 'merged-'))
afterAll(() => rmSync(folder, { recursive: true }))

const defaults = { map: {}, timeZone: 'UTC', unitOf: () => undefined, unitOfPoint: () => undefined }
const day = (minute: number): string => `2026-05-09 10:${String(minute).padStart(2, '0')}`

/** Order in which rows come: A or B and the minute of a reading, g and the number of a grab sample. */
async function order(files: Readonly<Record<string, string>>, stopAfter?: number): Promise<string[]> {
  const seen: string[] = []
  const paths = Object.entries(files).map(([name, text]) => {
    writeFileSync(join(folder, name), text)
    return { path: join(folder, name), defaults }
  })
  await readMerged(paths, 'file', {
    input: ({ message }) => {
      const { kind, analyzer, time, sampleId } = message as Record<string, string>
      seen.push(kind === 'grab' ? `g${sampleId!}` : `${analyzer!}${time!.slice(14, 16)}`)
    },
    missing: () => {},
    ...(stopAfter === undefined ? {} : { pause: async () => seen.length < stopAfter }),
  })
  return seen
}

const readings = (name: string, minutes: readonly number[]): string =>
  [`time,${name}`, ...minutes.map(minute => `${day(minute)},1`)].join('\n')
const grabs = (rows: readonly (readonly [string, string])[]): string =>
  ['point,sampled,reported,value,sampleId', ...rows.map(([at, reported], i) => `CFE,${at},${reported},1,${i}`)].join(
    '\n',
  )

describe('several files as one record', () => {
  it('puts grab samples just before the first later reading, when they were reported', async () => {
    const files = {
      'a.csv': readings('A', [0, 5, 10, 15, 20, 25, 30, 35]),
      'g.csv': grabs([
        [day(21), ''],
        [day(2), ''],
        [day(3), day(13)],
      ]),
    }
    const seen = await order(files)
    // The time reached is the median of the newest readings: behind the newest itself.
    expect(seen.filter(one => one.startsWith('g'))).toEqual(['g1', 'g2', 'g0'])
    expect(seen.indexOf('g1')).toBe(seen.indexOf('A10') - 1)
  })

  it('merges CSV files of single analyzers', async () => {
    const seen = await order({ 'a.csv': readings('A', [0, 10, 20, 30, 40]), 'b.csv': readings('B', [5, 15, 25, 35]) })
    expect(seen).toHaveLength(9)
    for (const name of ['A', 'B']) {
      const own = seen.filter(one => one.startsWith(name))
      expect(own).toEqual([...own].sort())
    }
    expect(seen.indexOf('B05')).toBeLessThan(seen.indexOf('A30'))
    expect(seen.indexOf('B35')).toBeGreaterThan(seen.indexOf('A30'))
  })

  it('releases nothing for one reading from 2099', async () => {
    const text = readings('A', [0, 1, 2, 3, 4, 5]).replace(day(1), '2099-01-01 10:01')
    const seen = await order({ 'a.csv': text, 'g.csv': grabs([[day(30), '']]) })
    expect(seen.at(-1)).toBe('g0')
  })

  it('reads NDJSON one after another, as it arrived, with CSV facts among it', async () => {
    const line = (analyzer: string, minute: number): string =>
      JSON.stringify({ kind: 'reading', analyzer, time: `${day(minute).replace(' ', 'T')}:00Z`, value: 1, unit: 'NTU' })
    const seen = await order({
      'b.ndjson': [line('B', 1), line('B', 0)].join('\n'),
      'g.csv': grabs([[day(2), '']]),
      'a.ndjson': [line('A', 3), line('A', 4), line('A', 5), line('A', 6)].join('\n'),
    })
    expect(seen.filter(one => !one.startsWith('g'))).toEqual(['B01', 'B00', 'A03', 'A04', 'A05', 'A06'])
    expect(seen.indexOf('g0')).toBe(seen.indexOf('A05') - 1)
  })

  it('stops where it is told to', async () => {
    const seen = await order(
      {
        'a.ndjson': '{"kind":"reading","analyzer":"A","time":"2026-05-09T10:00:00Z"}\n',
        'b.ndjson': '{"kind":"grab","sampleId":"1"}',
      },
      1,
    )
    expect(seen).toEqual(['A00'])
  })
})
