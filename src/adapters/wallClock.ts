import { DAY_MS, MINUTE_MS, parseInstant } from '../model/time.js'
import { instantsOfWallClock, offsetMinutes } from '../model/timeZone.js'

export const DATE_ORDERS = ['ymd', 'dmy', 'mdy'] as const
export type DateOrder = (typeof DATE_ORDERS)[number]

export interface TimeFormat {
  /** How the file writes time; `text` is a calendar date with or without an offset. */
  readonly written: 'text' | 'epochS' | 'epochMs'
  /** Zone of times without an offset. */
  readonly timeZone: string
  /** Order of day and month in dates with slashes; where nobody says, such dates are refused. */
  readonly dateOrder: DateOrder | undefined
}

export type ReadTime =
  | {
      readonly ok: true
      readonly atMs: number
      /** The later instant it may mean as well, where both were asked for. */ readonly alsoMs?: number
    }
  | { readonly ok: false; readonly rule: string }

/** Which way the times of a file run; it decides which of two instants is meant in the doubled hour. */
export interface Neighbours {
  readonly previousMs: number | undefined
  readonly direction: 'up' | 'down'
}

/**
 * Instant of a time cell. In the hour that clocks skip no such time exists; in the hour they repeat the file's own
 * order decides: the nearest instant after the row before (before it, where rows run backwards).
 * @param neighbours undefined for records whose order says nothing; `both` where either instant can be tried
 */
export function readTime(text: string, format: TimeFormat, neighbours?: Neighbours | 'both'): ReadTime {
  if (format.written !== 'text') return readEpoch(text, format.written)
  const exact = parseInstant(text)
  if (exact !== undefined) return { ok: true, atMs: exact }
  const wall = parseWallClock(text, format.dateOrder)
  if (typeof wall === 'string') return { ok: false, rule: wall }
  const instants = instantsOf(format.timeZone, wall)
  if (instants.length === 0) {
    return { ok: false, rule: `does not exist in ${format.timeZone}: clocks were put forward past it` }
  }
  if (instants.length === 1) return { ok: true, atMs: instants[0]! }
  if (neighbours === 'both') return { ok: true, atMs: instants[0]!, alsoMs: instants.at(-1)! }
  const previous = neighbours?.previousMs
  const chosen =
    previous === undefined
      ? undefined
      : neighbours!.direction === 'up'
        ? instants.find(at => at > previous)
        : instants.findLast(at => at < previous)
  return chosen === undefined
    ? {
        ok: false,
        rule: `comes twice in ${format.timeZone} that night, and nothing says which: write it with its offset`,
      }
    : { ok: true, atMs: chosen }
}

function readEpoch(text: string, written: 'epochS' | 'epochMs'): ReadTime {
  const count = /^-?\d{1,16}(\.\d+)?$/.test(text) ? Number(text) : Number.NaN
  const atMs = Math.floor(written === 'epochS' ? count * 1_000 : count)
  return Math.abs(atMs) <= 8.64e15
    ? { ok: true, atMs }
    : { ok: false, rule: `must be a number of ${written === 'epochS' ? 'seconds' : 'milliseconds'} since 1970` }
}

const YEAR_FIRST = /^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[T ]+(.*))?$/
const YEAR_LAST = /^(\d{1,2})([-/.])(\d{1,2})\2(\d{4})(?:[T ]+(.*))?$/
const CLOCK = /^(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?$/

/** Wall-clock time as if it were UTC, or the rule it breaks. */
function parseWallClock(text: string, order: DateOrder | undefined): number | string {
  const date = parseDate(text, order)
  if (typeof date === 'string') return date
  const clock = CLOCK.exec(date.clock)
  if (clock === null) return 'must end in a time of day such as 10:15 or 10:15:00'
  const [, hour, minute, second = '0', fraction = ''] = clock
  if (Number(hour) > 23 || Number(minute) > 59 || Number(second) > 59) return 'must be a time of day that exists'
  const day = Date.UTC(date.year, date.month - 1, date.day)
  const real = new Date(day)
  if (date.year < 100 || real.getUTCMonth() !== date.month - 1 || real.getUTCDate() !== date.day) {
    return 'must be a calendar day that exists'
  }
  return (
    day +
    ((Number(hour) * 60 + Number(minute)) * 60 + Number(second)) * 1_000 +
    Math.floor(Number(`0.${fraction}0`) * 1_000)
  )
}

function parseDate(
  text: string,
  order: DateOrder | undefined,
): { year: number; month: number; day: number; clock: string } | string {
  const first = YEAR_FIRST.exec(text)
  if (first !== null) {
    return { year: Number(first[1]), month: Number(first[3]), day: Number(first[4]), clock: first[5] ?? '0:00' }
  }
  const last = YEAR_LAST.exec(text)
  if (last === null) return 'must be a time such as 2026-05-09 10:15:00 or 2026-05-09T10:15:00Z'
  const monthFirst = order === 'mdy'
  // With dots the day stands first everywhere; with slashes and hyphens that depends on the country.
  if (order !== 'dmy' && !monthFirst && last[2] !== '.') {
    return 'may be day/month or month/day: say dateOrder (dmy or mdy) in the map'
  }
  const [day, month] = monthFirst ? [last[3], last[1]] : [last[1], last[3]]
  return { year: Number(last[4]), month: Number(month), day: Number(day), clock: last[5] ?? '0:00' }
}

/** Asking the zone is slow; on a day with the same offset around it there is nothing to ask. */
const steadyDay = new Map<string, { readonly day: number; readonly offsetMs: number }>()

function instantsOf(zone: string, wallMs: number): readonly number[] {
  const day = Math.floor(wallMs / DAY_MS)
  const known = steadyDay.get(zone)
  if (known?.day === day) return [wallMs - known.offsetMs]
  const [before, after] = [offsetMinutes(zone, (day - 1) * DAY_MS), offsetMinutes(zone, (day + 2) * DAY_MS)]
  if (before !== after) return instantsOfWallClock(zone, wallMs)
  steadyDay.set(zone, { day, offsetMs: before * MINUTE_MS })
  return [wallMs - before * MINUTE_MS]
}
