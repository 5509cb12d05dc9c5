import { DAY_MS, MINUTE_MS } from './time.js'
import { instantOfWallClock, offsetMinutes } from './timeZone.js'

/** A day or a month as a calendar of the zone shows it, from its first instant to the first of the next one. */
export interface LocalSpan {
  readonly fromMs: number
  readonly toMs: number
}

/** The local day that holds an instant. */
export function localDay(zone: string, atMs: number): LocalSpan & { readonly isWorkingDay: boolean } {
  const wallMs = midnightOnTheWall(zone, atMs)
  return { ...spanOf(zone, wallMs, wallMs + DAY_MS), isWorkingDay: isMondayToFriday(wallMs) }
}

/** The local calendar month that holds an instant. */
export function localMonth(zone: string, atMs: number): LocalSpan {
  const date = new Date(midnightOnTheWall(zone, atMs))
  const monthMs = (ahead: number): number => Date.UTC(date.getUTCFullYear(), date.getUTCMonth() + ahead, 1)
  return spanOf(zone, monthMs(0), monthMs(1))
}

/** End of the local day that lies so many days after the one that holds an instant: a date counted in days. */
export function endOfDayAfter(zone: string, atMs: number, days: number): number {
  return instantOfWallClock(zone, midnightOnTheWall(zone, atMs) + (Math.floor(days) + 1) * DAY_MS)
}

/** An instant of the local day that holds another one. @param minutes after midnight on the clock of the zone */
export function atLocalTime(zone: string, atMs: number, minutes: number): number {
  return instantOfWallClock(zone, midnightOnTheWall(zone, atMs) + minutes * MINUTE_MS)
}

/**
 * Time between two instants that lies on working days, Monday to Friday. Public holidays are not known and count as
 * working days.
 */
export function workingMsBetween(zone: string, fromMs: number, toMs: number): number {
  let sum = 0
  for (let day = localDay(zone, fromMs); day.fromMs < toMs; day = localDay(zone, day.toMs))
    if (day.isWorkingDay) sum += Math.min(toMs, day.toMs) - Math.max(fromMs, day.fromMs)
  return sum
}

/** The instant at which so much time on working days has passed. */
export function afterWorkingMs(zone: string, fromMs: number, workingMs: number): number {
  let left = workingMs
  for (let day = localDay(zone, fromMs); ; day = localDay(zone, day.toMs)) {
    if (!day.isWorkingDay) continue
    const startMs = Math.max(fromMs, day.fromMs)
    if (left <= day.toMs - startMs) return startMs + left
    left -= day.toMs - startMs
  }
}

/** Midnight of the local day as if the clock on the wall showed UTC. */
function midnightOnTheWall(zone: string, atMs: number): number {
  return Math.floor((atMs + offsetMinutes(zone, atMs) * MINUTE_MS) / DAY_MS) * DAY_MS
}

function spanOf(zone: string, fromWallMs: number, toWallMs: number): LocalSpan {
  return { fromMs: instantOfWallClock(zone, fromWallMs), toMs: instantOfWallClock(zone, toWallMs) }
}

function isMondayToFriday(wallMs: number): boolean {
  const weekday = new Date(wallMs).getUTCDay()
  return weekday >= 1 && weekday <= 5
}
