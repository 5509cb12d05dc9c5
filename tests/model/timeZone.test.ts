import { describe, expect, it } from 'vitest'
import { HOUR_MS } from '../../src/model/time.js'
import { instantsOfWallClock, isTimeZone, offsetMinutes, shiftStart } from '../../src/model/timeZone.js'

/** IANA database, Europe/London 2026: summer time from 29 March 01:00 UTC to 25 October 01:00 UTC. */
const ZONE = 'Europe/London'
const FORWARD_MS = Date.UTC(2026, 2, 29, 1)
const BACK_MS = Date.UTC(2026, 9, 25, 1)
const iso = (atMs: number) => new Date(atMs).toISOString().slice(0, 16)

describe('isTimeZone', () => {
  it.each(['Europe/London', 'UTC', 'Asia/Kathmandu', 'America/St_Johns'])('knows %s', zone => {
    expect(isTimeZone(zone)).toBe(true)
  })
  it.each(['Hollin/Weir', '', '__proto__', 'Europe/London '])('does not know %j', zone => {
    expect(isTimeZone(zone)).toBe(false)
  })
})

describe('offsetMinutes', () => {
  it.each([
    ['Europe/London', FORWARD_MS - 1, 0],
    ['Europe/London', FORWARD_MS, 60],
    ['Europe/London', BACK_MS - 1, 60],
    ['Europe/London', BACK_MS, 0],
    ['Asia/Kathmandu', BACK_MS, 345],
    ['America/St_Johns', Date.UTC(2026, 0, 1), -210],
    ['UTC', 0, 0],
  ])('%s at %d', (zone, atMs, minutes) => {
    expect(offsetMinutes(zone, atMs)).toBe(minutes)
  })
})

describe('instantsOfWallClock', () => {
  it.each([
    ['before the missing hour', Date.UTC(2026, 2, 29, 0, 59), ['2026-03-29T00:59']],
    ['in the missing hour', Date.UTC(2026, 2, 29, 1, 30), []],
    ['after the missing hour', Date.UTC(2026, 2, 29, 2, 0), ['2026-03-29T01:00']],
    ['before the doubled hour', Date.UTC(2026, 9, 25, 0, 59), ['2026-10-24T23:59']],
    ['in the doubled hour', Date.UTC(2026, 9, 25, 1, 30), ['2026-10-25T00:30', '2026-10-25T01:30']],
    ['after the doubled hour', Date.UTC(2026, 9, 25, 2, 0), ['2026-10-25T02:00']],
    ['in summer', Date.UTC(2026, 6, 1, 12), ['2026-07-01T11:00']],
  ])('%s', (_, wallMs, expected) => {
    expect(instantsOfWallClock(ZONE, wallMs).map(iso)).toEqual(expected)
  })

  it('every instant of both nights is among the meanings of its own wall clock', () => {
    for (const changeMs of [FORWARD_MS, BACK_MS]) {
      for (let atMs = changeMs - 3 * HOUR_MS; atMs <= changeMs + 3 * HOUR_MS; atMs += HOUR_MS / 4) {
        expect(instantsOfWallClock(ZONE, atMs + offsetMinutes(ZONE, atMs) * 60_000)).toContain(atMs)
      }
    }
  })
})

describe('shiftStart', () => {
  const starts = [6 * 60, 14 * 60, 22 * 60]
  it.each([
    ['2026-07-01T13:00', '2026-07-01T13:00'], // 14:00 on the wall
    ['2026-07-01T12:59', '2026-07-01T05:00'],
    ['2026-07-02T02:00', '2026-07-01T21:00'],
    ['2026-01-15T14:00', '2026-01-15T14:00'],
    ['2026-01-15T05:59', '2026-01-14T22:00'],
  ])('at %sZ the shift began at %sZ', (at, expected) => {
    expect(iso(shiftStart(ZONE, starts, Date.parse(`${at}:00Z`)))).toBe(expected)
  })

  it.each([
    ['forward', Date.UTC(2026, 2, 28, 22), Date.UTC(2026, 2, 29, 5)],
    ['back', Date.UTC(2026, 9, 24, 21), Date.UTC(2026, 9, 25, 6)],
  ])('the night in which clocks go %s is one shift', (_, fromMs, untilMs) => {
    for (let atMs = fromMs; atMs < untilMs; atMs += HOUR_MS / 4) {
      expect(iso(shiftStart(ZONE, starts, atMs))).toBe(iso(fromMs))
    }
    expect(iso(shiftStart(ZONE, starts, untilMs))).toBe(iso(untilMs))
  })
})
