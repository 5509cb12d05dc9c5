import { describe, expect, it } from 'vitest'
import { DAY_MS, formatInstant, HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { REGISTER, run, scratch } from './support.js'

const { put } = scratch()
const START_MS = Date.UTC(2026, 4, 1)
const at = (days: number, hours = 0) => formatInstant(START_MS + days * DAY_MS + hours * HOUR_MS)

/** RW-A at 20 NTU for five days, cleaned on the second and, with 1.5 NTU of film, on the fifth. */
const readings = Array.from({ length: 5 * 288 }, (_, k) => ({
  kind: 'reading',
  analyzer: 'RW-A',
  time: formatInstant(START_MS + k * 5 * MINUTE_MS),
  value: 20 + (k % 7) / 10,
  unit: 'NTU',
}))
const cleaned = (time: string, asFound: number, asFoundClean: number) => ({
  kind: 'work',
  analyzer: 'RW-A',
  time,
  action: 'cleaned',
  asFound,
  asFoundClean,
  accepted: true,
})
const works = [cleaned(at(1, 6), 20.2, 20.2), cleaned(at(4, 12), 21.8, 20.3)]
const messages = [...readings, ...works].sort((a, b) => (a.time < b.time ? -1 : 1))
const register = put('register.yaml', REGISTER)
const stream = put('stream.ndjson', messages.map(one => JSON.stringify(one)).join('\n'))
const correct = (...more: readonly string[]) => run(['correction', 'RW-A', '--register', register, stream, ...more])

describe('correction', () => {
  it('sets original and proposed values side by side, block by block, with interval and reason', async () => {
    const { code, out } = await correct()
    expect(code).toBe(0)
    const [head, ...rows] = out.trimEnd().split('\n')
    expect(head).toBe('time,analyzer,original_ntu,proposed_ntu,low_ntu,high_ntu,reason')
    expect(rows.length).toBeGreaterThan(250)
    for (const row of rows) {
      const [time, analyzer, original, proposed, low, high] = row.split(',')
      expect(analyzer).toBe('RW-A')
      // Linear from the cleaning of day 1, 06:00, to −1.5 NTU on day 4, 12:00: 78 hours.
      const share = (Date.parse(time!) - Date.parse(at(1, 6))) / (78 * HOUR_MS)
      expect(Number(proposed)).toBeCloseTo(Number(original) - 1.5 * share, 3)
      expect(Number(low)).toBeLessThan(Number(proposed))
      expect(Number(high)).toBeGreaterThan(Number(proposed))
      expect(row).toMatch(/"film found on 5 May 2026, 12:00 UTC"$/)
    }
  })

  it('tells the formula for older time, and that nothing is touched', async () => {
    const { told } = await correct()
    expect(told).toMatch(/proposed = original − 1\.5 NTU × \(t − 2 May 2026, 06:00 UTC\) \/ 3\.25 d/)
    expect(told).toMatch(/for older time take the formula\. Advice only: the recorded values are not touched/)
  })

  it('gives the same to machines, the formula first', async () => {
    const { out } = await correct('--format', 'ndjson')
    const [about, first] = out
      .trimEnd()
      .split('\n')
      .map(line => JSON.parse(line) as Record<string, unknown>)
    expect(about).toMatchObject({ analyzer: 'RW-A', corrections: [{ atVisitNtu: -1.5, rating: 'excellent' }] })
    expect(Object.keys(first!).sort()).toEqual(['analyzer', 'ci95', 'originalNtu', 'proposedNtu', 'reason', 'time'])
  })

  it('says what it takes where no visit supports one', async () => {
    const { code, told, out } = await run(['correction', 'FE3-A', '--register', register, stream])
    expect([code, out.split('\n').length]).toEqual([0, 2])
    expect(told).toMatch(/no visit on record supports a correction/)
  })

  it('knows no other analyzers than those of the register', async () => {
    const { code, told } = await run(['correction', 'FE9-A', '--register', register, stream])
    expect(code).toBe(3)
    expect(told).toMatch(/FE9-A: no analyzer of that name/)
  })
})

describe('scorecard', () => {
  it('is empty where nothing was asked', async () => {
    const { code, out } = await run(['scorecard', '--register', register, stream, '--format', 'table'])
    expect([code, out]).toEqual([0, 'No request has ended with a verdict yet.\n'])
  })
})
