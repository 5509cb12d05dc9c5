import { existsSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { run, scratch } from './support.js'

const { path, put } = scratch()
const START = Date.UTC(2026, 2, 25)
const DAYS = 16

/** A triangle wave, so that the water moves without chance. */
function water(atMs: number): number {
  const phase = (atMs % (7 * HOUR_MS)) / (7 * HOUR_MS)
  return 0.08 + 0.02 * Math.abs(2 * phase - 1) + 0.001 * ((atMs / MINUTE_MS) % 7)
}

/** London wall clock: an hour ahead of UTC from 29 March 2026, 01:00 UTC (IANA time zone database). */
function wallClock(atMs: number): string {
  const shown = new Date(atMs >= Date.UTC(2026, 2, 29, 1) ? atMs + HOUR_MS : atMs).toISOString()
  return `${shown.slice(8, 10)}.${shown.slice(5, 7)}.${shown.slice(0, 4)} ${shown.slice(11, 16)}`
}

const comma = (value: number): string => value.toFixed(4).replace('.', ',')

/** FE3-B has stood 0.13 NTU high, more than two tolerances, since the second day: no exact factor of what it read. */
function historian(): string {
  const rows = ['Zeit;FE3-A;FE3-B']
  for (let atMs = START; atMs < START + DAYS * DAY_MS; atMs += 5 * MINUTE_MS) {
    const bias = atMs > START + DAY_MS ? 0.13 : 0
    rows.push(`${wallClock(atMs)};${comma(water(atMs))};${comma(water(atMs + 3 * MINUTE_MS) + bias)}`)
  }
  return rows.join('\n')
}

function bottles(): string {
  const rows = ['point;sampled;value;unit;sampleId']
  for (let i = 0; i < DAYS * 4; i++) {
    const atMs = START + i * 6 * HOUR_MS + 7 * MINUTE_MS
    rows.push(`FE3;${wallClock(atMs)};${comma(water(atMs))};NTU;L-${i}`)
  }
  return rows.join('\r\n')
}

describe('replay of CSV without a register', () => {
  it('drafts one and names the unit that is wrong', { timeout: 60_000 }, async () => {
    const csv = put('historian.csv', historian())
    const args = ['replay', '--csv', csv, '--grabs', put('grabs.csv', bottles()), '--time-zone', 'Europe/London']
    const map = put('map.yaml', 'columns: { time: Zeit }\n')
    const ran = await run([...args, '--map', map, '--html', path('pages'), '--out', path('events.ndjson')])
    expect(ran.told).toContain('FE3 (FE3-A, FE3-B)')
    expect(ran.code).toBe(0)
    expect(ran.told).toContain(' 0 refused')
    expect(ran.out).toMatch(/FE3-B\s+│ doubtful/)
    expect(ran.out).toMatch(/FE3-B reads 0\.\d+ NTU high/)
    expect(ran.out).toMatch(/FE3-A\s+│ consistent/)
    expect(existsSync(path('pages/FE3-B.html'))).toBe(true)
    const opened = readFileSync(path('events.ndjson'), 'utf8').match(/"type":"turbidrift\.recommendation\.opened"/g)
    expect(opened).toHaveLength(1)

    const draft = await run([
      'register',
      'from-csv',
      csv,
      path('grabs.csv'),
      '--map',
      map,
      '--time-zone',
      'Europe/London',
    ])
    const register = put('drafted.yaml', draft.out)
    expect(draft.out).toContain('perDay: 4')
    expect(draft.out).toContain('intervalS: 300')
    // With the draft as a register, and the two files as plain inputs, the same comes out.
    const again = await run([
      'replay',
      '--register',
      register,
      '--csv',
      csv,
      '--map',
      map,
      '--grabs',
      path('grabs.csv'),
      '--out',
      path('again.ndjson'),
    ])
    expect(again.code).toBe(0)
    expect(readFileSync(path('again.ndjson'), 'utf8')).toBe(readFileSync(path('events.ndjson'), 'utf8'))
  })

  it('refuses rows with field, value, rule and place, and goes on', async () => {
    const csv = put(
      'bad.csv',
      `${historian().split('\n').slice(0, 400).join('\n')}\n29.03.2026 01:30;0,08;0,08\n25.03.2026;full;0,1;`,
    )
    const map = put('map.yaml', 'columns: { time: Zeit }\n')
    const ran = await run([
      'replay',
      '--csv',
      csv,
      '--map',
      map,
      '--time-zone',
      'Europe/London',
      '--rejects',
      path('rejects.ndjson'),
    ])
    expect(ran.code).toBe(0)
    const rejects = readFileSync(path('rejects.ndjson'), 'utf8').trimEnd().split('\n')
    expect(rejects.map(line => JSON.parse(line) as unknown)).toMatchObject([
      { position: `${csv}:401`, faults: [{ field: 'reading.time', value: '"29.03.2026 01:30"' }] },
      { position: `${csv}:402`, faults: [{ field: 'reading.value (FE3-A)', value: '"full"' }] },
    ])
    expect(ran.told).toContain('refused: invalid field 2')
  })

  it.each([
    ['no reading', 'time,FE3-A\n', 'no reading could be read'],
    ['no time', 'a,b\n1,2\n', 'needs a column'],
  ])('says what is wrong with a file with %s', async (_, text, sentence) => {
    const ran = await run(['replay', '--csv', put('odd.csv', text)])
    expect(ran.code).toBe(1)
    expect(ran.told).toContain(sentence)
  })
})
