/** Instants are whole milliseconds since 1970-01-01T00:00:00Z everywhere inside; text only at the edge. */
export const SECOND_MS = 1_000
export const MINUTE_MS = 60_000
export const HOUR_MS = 3_600_000
export const DAY_MS = 86_400_000

const RFC3339 = /^(\d{4})-(\d{2})-(\d{2})[Tt ](\d{2}):(\d{2})(?::(\d{2})(\.\d+)?)?([Zz]|[+-]\d{2}:\d{2})$/

/**
 * Instant of an RFC 3339 date-time with an offset; seconds may be left out. Calendar days that do not exist
 * (30 February) and leap seconds give undefined, as does anything else: `Date.parse` alone would move them.
 */
export function parseInstant(text: string): number | undefined {
  return parsePlainUtc(text) ?? parseAnyInstant(text)
}

/** Works for every text; `parseInstant` goes a shorter way for most and must agree with this one. */
export function parseAnyInstant(text: string): number | undefined {
  const parts = RFC3339.exec(text)
  if (parts === null) return undefined
  const [, year, month, day, hour, minute, second = '00', fraction = '', offset] = parts
  if (Number(hour) > 23 || Number(minute) > 59 || Number(second) > 59) return undefined
  const wall = Date.UTC(Number(year), Number(month) - 1, Number(day), Number(hour), Number(minute), Number(second))
  const date = new Date(wall)
  if (
    date.getUTCFullYear() !== Number(year) ||
    date.getUTCMonth() !== Number(month) - 1 ||
    date.getUTCDate() !== Number(day)
  )
    return undefined
  const offsetMs = parseOffset(offset!)
  if (offsetMs === undefined) return undefined
  return wall + Math.floor(Number(`0${fraction}`) * SECOND_MS) - offsetMs
}

/** `2026-05-09T10:15:00Z` or `…00.000Z`, as most senders write it, on a day that every month has. */
function parsePlainUtc(text: string): number | undefined {
  const last = text.length - 1
  if ((last !== 19 && last !== 23) || !isAt(text, last, 'Z') || (last === 23 && !isAt(text, 19, '.'))) return undefined
  if (!isAt(text, 4, '-') || !isAt(text, 7, '-') || !isAt(text, 10, 'T')) return undefined
  if (!isAt(text, 13, ':') || !isAt(text, 16, ':')) return undefined
  const year = 100 * twoDigits(text, 0) + twoDigits(text, 2)
  const month = twoDigits(text, 5)
  const day = twoDigits(text, 8)
  const hour = twoDigits(text, 11)
  const minute = twoDigits(text, 14)
  const second = twoDigits(text, 17)
  const ms = last === 19 ? 0 : 10 * twoDigits(text, 20) + (twoDigits(text, 21) % 10)
  // A comparison with NaN is false: every part that holds no digits ends here too.
  if (!(year >= 1_000 && month >= 1 && month <= 12 && day >= 1 && day <= 28)) return undefined
  if (!(hour <= 23 && minute <= 59 && second <= 59 && ms <= 999)) return undefined
  return Date.UTC(year, month - 1, day, hour, minute, second, ms)
}

function isAt(text: string, at: number, character: string): boolean {
  return text.charCodeAt(at) === character.charCodeAt(0)
}

/** NaN where there are none. */
function twoDigits(text: string, at: number): number {
  const tens = text.charCodeAt(at) - 0x30
  const ones = text.charCodeAt(at + 1) - 0x30
  return tens >= 0 && tens <= 9 && ones >= 0 && ones <= 9 ? 10 * tens + ones : Number.NaN
}

/** RFC 3339, UTC, whole seconds, `Z`: the one form that leaves the service. */
export function formatInstant(atMs: number): string {
  return `${new Date(Math.floor(atMs / SECOND_MS) * SECOND_MS).toISOString().slice(0, 19)}Z`
}

/** "9 May 2026, 10:15 UTC" for sentences; no locale is asked, so every machine writes the same. */
export function sayInstant(atMs: number): string {
  const iso = new Date(atMs).toISOString()
  return `${sayDay(atMs)}, ${iso.slice(11, 16)} UTC`
}

/** "9 May 2026" in UTC. */
export function sayDay(atMs: number): string {
  const date = new Date(atMs)
  return `${String(date.getUTCDate())} ${MONTHS[date.getUTCMonth()] as string} ${String(date.getUTCFullYear())}`
}

/** "0.5 h", "28.0 h", "5.2 days" for sentences. */
export function sayDuration(ms: number): string {
  return ms < 3 * DAY_MS ? `${(ms / HOUR_MS).toFixed(1)} h` : `${(ms / DAY_MS).toFixed(1)} days`
}

/** "for 4.0 h, since 9 May 2026, 10:00 UTC". */
export function sayAge(sinceMs: number, nowMs: number): string {
  return `for ${sayDuration(nowMs - sinceMs)}, since ${sayInstant(sinceMs)}`
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'] as const

function parseOffset(offset: string): number | undefined {
  if (offset === 'Z' || offset === 'z') return 0
  const hours = Number(offset.slice(1, 3))
  const minutes = Number(offset.slice(4, 6))
  if (hours > 23 || minutes > 59) return undefined
  return (offset.startsWith('-') ? -1 : 1) * (hours * HOUR_MS + minutes * MINUTE_MS)
}
