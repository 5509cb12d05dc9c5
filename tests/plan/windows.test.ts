import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { placeVisits, type Wanted, windowsFrom } from '../../src/plan/windows.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'

const ZONE = 'Europe/London'
const iso = (atMs: number): string => new Date(atMs).toISOString().slice(0, 16)
// Monday 4 May 2026, 09:00 in London.
const MONDAY_MS = Date.UTC(2026, 4, 4, 8)
const FRIDAY_EVENING_MS = Date.UTC(2026, 4, 8, 19)

describe('windows', () => {
  it('are the half days of Monday to Friday on the clocks of the zone, the first from now on', () => {
    const windows = windowsFrom(ZONE, MONDAY_MS, MONDAY_MS + 7 * DAY_MS)
    expect(windows.slice(0, 2).map(({ fromMs, toMs }) => [iso(fromMs), iso(toMs)])).toEqual([
      ['2026-05-04T08:00', '2026-05-04T11:00'],
      ['2026-05-04T12:00', '2026-05-04T16:00'],
    ])
    expect(windows.filter(({ fromMs }) => [0, 6].includes(new Date(fromMs).getUTCDay()))).toEqual([])
  })
  it('begin with the time before the first half day, for what cannot wait', () => {
    const [first, second] = windowsFrom(ZONE, FRIDAY_EVENING_MS, FRIDAY_EVENING_MS + 7 * DAY_MS)
    expect(first).toMatchObject({ isHalfDay: false, fromMs: FRIDAY_EVENING_MS, toMs: second!.fromMs })
    expect(iso(second!.fromMs)).toBe('2026-05-11T07:00')
  })
})

describe('visits to the units of one point', () => {
  const windows = windowsFrom(ZONE, MONDAY_MS, MONDAY_MS + 30 * DAY_MS)
  it('due on one day take the two half days of it', () => {
    const byMs = Date.UTC(2026, 4, 6, 23)
    const placed = placeVisits([wanted('A', byMs), wanted('B', byMs)], windows)
    expect([...placed.values()].map(({ window }) => iso(window.fromMs)).sort()).toEqual([
      '2026-05-06T07:00',
      '2026-05-06T12:00',
    ])
    expect([...placed.values()].some(({ late }) => late)).toBe(false)
  })
  it('due on a Sunday are made on the Friday before', () => {
    const placed = placeVisits([wanted('A', Date.UTC(2026, 4, 10, 23))], windows)
    expect(iso(placed.get('A')!.window.fromMs)).toBe('2026-05-08T12:00')
  })
  it('that are overdue come first, one after the other, and say so', () => {
    const placed = placeVisits([wanted('A', MONDAY_MS - DAY_MS), wanted('B', MONDAY_MS - 2 * DAY_MS)], windows)
    expect(placed.get('B')).toEqual({ window: windows[0], late: true })
    expect(placed.get('A')).toEqual({ window: windows[1], late: true })
  })
  it('wanted at once on a Friday evening are not put off to Monday', () => {
    const evening = windowsFrom(ZONE, FRIDAY_EVENING_MS, FRIDAY_EVENING_MS + 30 * DAY_MS)
    const byMs = FRIDAY_EVENING_MS + 4 * HOUR_MS
    const placed = placeVisits([wanted('A', byMs, 'now'), wanted('B', byMs + 3 * DAY_MS, 'soon')], evening)
    expect(placed.get('A')?.window.fromMs).toBe(FRIDAY_EVENING_MS)
    expect(placed.get('B')?.window).toEqual(evening[1])
  })
  it('never share a window, and are late only where the windows before the dates are too few (property)', () => {
    const unit = fc.record({ days: fc.integer({ min: -3, max: 12 }), when: fc.constantFrom('by_date', 'soon', 'now') })
    fc.assert(
      fc.property(fc.array(unit, { minLength: 1, maxLength: 6 }), fc.integer({ min: 0, max: 167 }), (units, hour) => {
        const fromMs = MONDAY_MS + hour * HOUR_MS
        const own = windowsFrom(ZONE, fromMs, fromMs + 40 * DAY_MS)
        const all = units.map((one, i) => wanted(`U${String(i)}`, fromMs + one.days * DAY_MS, one.when))
        const placed = placeVisits(all, own)
        expect(placed.size).toBe(units.length)
        const begins = [...placed.values()].map(({ window }) => window.fromMs)
        expect(new Set(begins).size).toBe(units.length)
        const byDate = all.filter(one => one.when === 'by_date')
        const before = (byMs: number): number => own.filter(window => window.toMs <= byMs).length
        // Hall's condition: no date has more units up to it than windows.
        const feasible = byDate.every(one => byDate.filter(other => other.byMs <= one.byMs).length <= before(one.byMs))
        for (const { analyzer, byMs } of byDate) {
          const { window, late } = placed.get(analyzer)!
          expect(late).toBe(window.toMs > byMs)
          if (feasible) expect(late).toBe(false)
        }
      }),
      { seed: 20260504 },
    )
  })
})

function wanted(analyzer: string, byMs: number, when: Wanted['when'] = 'by_date'): Wanted {
  return { analyzer, byMs, when }
}
