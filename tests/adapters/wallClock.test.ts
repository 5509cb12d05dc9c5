import { describe, expect, it } from 'vitest'
import { readTime, type TimeFormat } from '../../src/adapters/wallClock.js'

const format = (more: Partial<TimeFormat> = {}): TimeFormat => ({
  written: 'text',
  timeZone: 'Europe/London',
  dateOrder: undefined,
  ...more,
})
const at = (text: string, more?: Partial<TimeFormat>): string => {
  const read = readTime(text, format(more))
  return read.ok ? new Date(read.atMs).toISOString() : read.rule
}

describe('times in CSV files', () => {
  it.each([
    ['2026-01-09T10:15:00Z', '2026-01-09T10:15:00.000Z'],
    ['2026-05-09T10:15:00+02:00', '2026-05-09T08:15:00.000Z'],
    ['2026-01-09 10:15', '2026-01-09T10:15:00.000Z'],
    ['2026-05-09 10:15:30.5', '2026-05-09T09:15:30.500Z'],
    ['2026/5/9 7:05', '2026-05-09T06:05:00.000Z'],
    ['09.05.2026 10:15:00', '2026-05-09T09:15:00.000Z'],
    ['2026-05-09', '2026-05-08T23:00:00.000Z'],
  ])('reads %s as %s', (text, expected) => expect(at(text)).toBe(expected))

  it.each([
    ['09/05/2026 10:15', 'dmy', '2026-05-09T09:15:00.000Z'],
    ['09/05/2026 10:15', 'mdy', '2026-09-05T09:15:00.000Z'],
  ] as const)('reads %s in the order %s', (text, dateOrder, expected) => expect(at(text, { dateOrder })).toBe(expected))

  it.each([
    ['09/05/2026 10:15', /day\/month or month\/day/],
    ['2026-02-30 10:00', /calendar day that exists/],
    ['2026-05-09 24:00', /time of day that exists/],
    ['2026-05-09 10h', /end in a time of day/],
    ['soon', /must be a time such as/],
    ['', /must be a time such as/],
    ['2026-05-09 10:15 AM', /end in a time of day/],
  ])('refuses %j: %s', (text, rule) => expect(at(text)).toMatch(rule))

  it.each([
    ['epochS', '1778321700', '2026-05-09T10:15:00.000Z'],
    ['epochMs', '1778321700250', '2026-05-09T10:15:00.250Z'],
  ] as const)('reads %s', (written, text, expected) => expect(at(text, { written })).toBe(expected))

  // IANA time zone database, Europe/London: 2026-03-29 01:00 UTC to BST, 2026-10-25 01:00 UTC back to GMT.
  it('refuses the hour that does not exist', () => {
    expect(at('2026-03-29 00:59:59')).toBe('2026-03-29T00:59:59.000Z')
    expect(at('2026-03-29 01:30')).toBe('does not exist in Europe/London: clocks were put forward past it')
    expect(at('2026-03-29 02:00')).toBe('2026-03-29T01:00:00.000Z')
  })

  it('refuses the doubled hour where nothing says which is meant', () => {
    expect(at('2026-10-25 00:59')).toBe('2026-10-24T23:59:00.000Z')
    expect(at('2026-10-25 01:30')).toMatch(/comes twice in Europe\/London that night/)
    expect(at('2026-10-25 02:00')).toBe('2026-10-25T02:00:00.000Z')
  })

  it('gives both instants of the doubled hour where both can be tried', () => {
    expect(readTime('2026-10-25 01:30', format(), 'both')).toEqual({
      ok: true,
      atMs: Date.UTC(2026, 9, 25, 0, 30),
      alsoMs: Date.UTC(2026, 9, 25, 1, 30),
    })
    expect(readTime('2026-10-25 02:30', format(), 'both')).toEqual({ ok: true, atMs: Date.UTC(2026, 9, 25, 2, 30) })
  })

  it.each([
    ['up', ['00:45', '01:00', '01:30', '01:00', '01:30', '02:00'], [-15, 0, 30, 60, 90, 120]],
    ['down', ['02:00', '01:30', '01:00', '01:30', '01:00', '00:45'], [120, 90, 60, 30, 0, -15]],
    // Hourly rows: the same wall-clock time twice running.
    ['up', ['00:00', '01:00', '01:00', '02:00'], [-60, 0, 60, 120]],
  ] as const)('tells the two by the order of a file running %s', (direction, clocks, minutes) => {
    let previousMs: number | undefined = direction === 'up' ? 0 : Date.UTC(2027, 0, 1)
    const read = clocks.map(clock => {
      const time = readTime(`2026-10-25 ${clock}`, format(), { previousMs, direction })
      previousMs = time.ok ? time.atMs : undefined
      return time.ok ? (time.atMs - Date.UTC(2026, 9, 25, 0, 0)) / 60_000 : time.rule
    })
    expect(read).toEqual(minutes)
  })
})
