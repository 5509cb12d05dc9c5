import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { readCsv } from '../../src/adapters/csv.js'
import { HOUR_MS } from '../../src/model/time.js'
import { holdsEverywhere } from './support/holdsEverywhere.js'
import type { SentRecord } from './support/plan.js'
import { runScenario, type Said } from './support/scenario.js'

/** FE1 is steady all night. FE2 rises at 01:00 UTC of the night of 25 October, between the two half past ones. */
const fe2Ntu = (atMs: number): number => (atMs < Date.parse('2026-10-25T01:00:00Z') ? 0.05 : 0.12)

/** What the bench writes: local time without offset, one sample at each filter a day, two more in the night in question. */
function benchFile(days: readonly string[], night: string, fe2Value: (day: string) => number): string {
  const rows = days.flatMap((day, i) => [
    `FE1,${day} 07:30,${String(0.05 + 0.002 * ((i % 3) - 1))},L1-${day}`,
    `FE2,${day} 07:30,${String(fe2Value(day) + 0.002 * ((i % 3) - 1))},L2-${day}`,
  ])
  return ['point,sampled,value,sampleId', ...rows, `FE1,${night} 01:30,0.05,N1`, `FE2,${night} 01:30,0.12,N2`].join(
    '\n',
  )
}

/** Reads it as a file of the laboratory; each result comes two hours after the water was taken. */
async function recordsOf(text: string): Promise<SentRecord[]> {
  const folder = mkdtempSync(join(tmpdir(), 'bench-'))
  const file = join(folder, 'bench.csv')
  writeFileSync(file, text)
  const records: SentRecord[] = []
  const unit = (): 'NTU' => 'NTU'
  await readCsv(
    { file, feed: 'drop', map: {}, timeZone: 'Europe/London', unitOf: unit, unitOfPoint: unit },
    {
      input: ({ message }, atMs) =>
        records.push({
          ...(message as SentRecord),
          comes: new Date((atMs ?? Date.parse('2026-03-29T02:00:00Z')) + 2 * HOUR_MS).toISOString(),
        }),
      missing: () => {},
    },
  )
  rmSync(folder, { recursive: true })
  return records
}

const daysFrom = (first: string, n: number): string[] =>
  Array.from({ length: n }, (_, i) => new Date(Date.parse(first) + i * 24 * HOUR_MS).toISOString().slice(0, 10))
const pairsOf = (run: Said, point: string) => run.state.points.get(point)?.pairs ?? []

const autumn = runScenario({
  id: 'S25-autumn',
  title: 'Clock change in laboratory times: 01:30 comes twice',
  from: '2026-10-14',
  days: 18,
  points: {
    FE1: { water: () => 0.05, grabs: 'none' },
    FE2: { water: ({ atMs }) => fe2Ntu(atMs), grabs: 'none' },
  },
  records: await recordsOf(
    benchFile(daysFrom('2026-10-14', 17), '2026-10-25', day => fe2Ntu(Date.parse(`${day}T07:30:00Z`))),
  ),
})
const spring = runScenario({
  id: 'S25-spring',
  title: 'Clock change in laboratory times: 01:30 does not exist',
  from: '2026-03-20',
  days: 14,
  points: { FE1: { water: () => 0.05, grabs: 'none' }, FE2: { water: () => 0.05, grabs: 'none' } },
  records: await recordsOf(benchFile(daysFrom('2026-03-20', 13), '2026-03-29', () => 0.05)),
})

describe('S25 Clock change in laboratory times: the hour that comes twice', () => {
  test('must say: kept where both readings of the time lead to the same', () => {
    const kept = pairsOf(autumn, 'FE1').find(pair => pair.sampleId === 'N1')
    expect(kept?.use).toBe('used')
    expect(kept?.atMs).toBe(Date.parse('2026-10-25T00:30:00Z'))
  })
  test('must say: refused with its reason where they do not', () => {
    expect(pairsOf(autumn, 'FE2').find(pair => pair.sampleId === 'N2')?.use).toBe('time_unclear')
    const [told, ...others] = autumn.suspects('grab')
    expect(others).toEqual([])
    expect(told?.data.sampleId).toBe('N2')
    expect(told?.data.summary).toMatch(/came twice, 25 Oct 2026, 00:30 UTC and 01:30 UTC/)
    expect(autumn.explain('FE2-A').excluded.time_unclear).toBe(1)
  })
  test('must say: every other sample right in summer and in winter', () => {
    const clocks = pairsOf(autumn, 'FE1')
      .filter(pair => pair.sampleId !== 'N1')
      .map(pair => new Date(pair.atMs).toISOString().slice(0, 16))
    expect(clocks).toContain('2026-10-24T06:30')
    expect(clocks).toContain('2026-10-25T07:30')
    expect(clocks.every(clock => clock.endsWith(clock < '2026-10-25' ? '06:30' : '07:30'))).toBe(true)
    expect(pairsOf(autumn, 'FE1').every(pair => pair.use === 'used')).toBe(true)
  })
  test('must not say: a bias that begins that night', () => {
    expect(autumn.opened()).toEqual([])
    for (const analyzer of ['FE1-A', 'FE2-A']) expect(autumn.status(analyzer).assessment).toBe('consistent')
  })
  holdsEverywhere(autumn)
})

describe('S25 Clock change in laboratory times: the hour that does not exist', () => {
  test('must say: rejected with field, value and rule', () => {
    expect(spring.ofType('message.rejected').map(({ data: { field, value, rule } }) => [field, value, rule])).toEqual(
      Array(2).fill([
        'grab.sampled',
        '"2026-03-29 01:30"',
        'does not exist in Europe/London: clocks were put forward past it',
      ]),
    )
  })
  test('must say: every other sample right in winter and in summer', () => {
    const clocks = pairsOf(spring, 'FE1').map(pair => new Date(pair.atMs).toISOString().slice(0, 16))
    expect(clocks).toHaveLength(13)
    expect(clocks.every(clock => clock.endsWith(clock < '2026-03-29' ? '07:30' : '06:30'))).toBe(true)
  })
  test('must not say: a bias that begins that night', () => {
    expect(spring.opened()).toEqual([])
    for (const analyzer of ['FE1-A', 'FE2-A']) expect(spring.status(analyzer).assessment).toBe('consistent')
  })
  holdsEverywhere(spring)
})
