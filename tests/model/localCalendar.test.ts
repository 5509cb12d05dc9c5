import { describe, expect, it } from 'vitest'
import {
  afterWorkingMs,
  atLocalTime,
  endOfDayAfter,
  localDay,
  localMonth,
  workingMsBetween,
} from '../../src/model/localCalendar.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'

/** IANA database, Europe/London 2026: summer time from 29 March 01:00 UTC to 25 October 01:00 UTC. */
const ZONE = 'Europe/London'
const iso = (atMs: number): string => new Date(atMs).toISOString().slice(0, 16)
const at = (text: string): number => Date.parse(`${text}Z`)

describe('days and months of a zone', () => {
  it('begin and end at the midnights of its clocks, 23 hours apart when they go forward', () => {
    expect(iso(localDay(ZONE, at('2026-05-03T22:59')).fromMs)).toBe('2026-05-02T23:00')
    expect(iso(localDay(ZONE, at('2026-05-03T23:00')).fromMs)).toBe('2026-05-03T23:00')
    const forward = localDay(ZONE, at('2026-03-29T12:00'))
    expect((forward.toMs - forward.fromMs) / HOUR_MS).toBe(23)
    expect(iso(localMonth(ZONE, at('2026-03-31T23:30')).fromMs)).toBe('2026-03-31T23:00')
    expect(iso(localMonth(ZONE, at('2026-12-15T00:00')).toMs)).toBe('2027-01-01T00:00')
  })
  it('a date counted in days ends with that day', () => {
    expect(iso(endOfDayAfter(ZONE, at('2026-03-02T10:00'), 90))).toBe('2026-05-31T23:00')
    expect(iso(endOfDayAfter('UTC', at('2026-03-02T10:00'), 0))).toBe('2026-03-03T00:00')
    expect(iso(atLocalTime(ZONE, at('2026-07-01T03:00'), 8 * 60))).toBe('2026-07-01T07:00')
  })
})

describe('time on working days', () => {
  // 8 May 2026 is a Friday.
  it('leaves Saturday and Sunday of the zone out', () => {
    const friday = at('2026-05-08T14:00')
    expect(workingMsBetween(ZONE, friday, at('2026-05-08T23:00')) / HOUR_MS).toBe(9)
    expect(workingMsBetween(ZONE, friday, at('2026-05-10T22:59')) / HOUR_MS).toBe(9)
    expect(workingMsBetween(ZONE, friday, at('2026-05-11T08:00')) / HOUR_MS).toBe(18)
    expect(localDay(ZONE, at('2026-05-10T23:30')).isWorkingDay).toBe(true)
    expect(localDay('UTC', at('2026-05-10T23:30')).isWorkingDay).toBe(false)
  })
  it('five working days from a Friday end at the same hour a week later, from a Saturday at the end of Friday', () => {
    expect(iso(afterWorkingMs(ZONE, at('2026-05-08T14:00'), 5 * DAY_MS))).toBe('2026-05-15T14:00')
    expect(iso(afterWorkingMs('UTC', at('2026-05-09T14:00'), 5 * DAY_MS))).toBe('2026-05-16T00:00')
  })
  it('used time at the end is the time allowed', () => {
    for (let k = 0; k < 60; k++) {
      const fromMs = at('2026-05-01T00:00') + k * 7 * HOUR_MS
      expect(workingMsBetween(ZONE, fromMs, afterWorkingMs(ZONE, fromMs, 5 * DAY_MS))).toBe(5 * DAY_MS)
    }
  })
})
