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
