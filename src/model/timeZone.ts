import { DAY_MS, MINUTE_MS } from './time.js'

export function isTimeZone(zone: string): boolean {
  try {
    formatter(zone)
    return true
  } catch {
    return false
  }
}

/** Minutes to add to UTC to get wall-clock time in a zone at an instant. */
export function offsetMinutes(zone: string, atMs: number): number {
  const known = offsets.get(zone) ?? new Map<number, number>()
  offsets.set(zone, known)
  let offset = known.get(atMs)
  if (offset === undefined) {
    if (known.size >= KEPT_OFFSETS) known.clear()
    offset = askedOffset(zone, atMs)
    known.set(atMs, offset)
  }
  return offset
}

/** All points ask about the same instants, and to ask is dear: so many answers are kept for each zone. */
const KEPT_OFFSETS = 4_000
const offsets = new Map<string, Map<number, number>>()

function askedOffset(zone: string, atMs: number): number {
  const parts: Record<string, number> = {}
  for (const part of formatter(zone).formatToParts(atMs)) parts[part.type] = Number(part.value)
  const wall = Date.UTC(
    parts.year ?? 0,
    (parts.month ?? 1) - 1,
    parts.day ?? 1,
    parts.hour ?? 0,
    parts.minute ?? 0,
    parts.second ?? 0,
  )
  return Math.round((wall - Math.floor(atMs / 1_000) * 1_000) / MINUTE_MS)
}

/**
 * Last start of a shift at or before an instant.
 * @param startsMin minutes after local midnight, ascending, at least one
 */
export function shiftStart(zone: string, startsMin: readonly number[], atMs: number): number {
  return Math.max(...startsAround(zone, startsMin, atMs).filter(at => at <= atMs))
}

/** First start of a shift after an instant. */
export function nextShiftStart(zone: string, startsMin: readonly number[], atMs: number): number {
  return Math.min(...startsAround(zone, startsMin, atMs).filter(at => at > atMs))
}

/** Starts of the local day before, the day itself and the day after. */
function startsAround(zone: string, startsMin: readonly number[], atMs: number): number[] {
  const localMidnight = Math.floor((atMs + offsetMinutes(zone, atMs) * MINUTE_MS) / DAY_MS) * DAY_MS
  return [localMidnight - DAY_MS, localMidnight, localMidnight + DAY_MS].flatMap(dayMs =>
    startsMin.map(start => instantOfWallClock(zone, dayMs + start * MINUTE_MS)),
  )
}

/** In the doubled hour the first; in the missing one what the clock would have shown before the change. */
export function instantOfWallClock(zone: string, wallMs: number): number {
  return instantsOfWallClock(zone, wallMs)[0] ?? wallMs - offsetMinutes(zone, wallMs - DAY_MS) * MINUTE_MS
}

/** The instants a wall-clock time may mean in a zone: none in the missing hour, two in the doubled one. */
export function instantsOfWallClock(zone: string, wallMs: number): readonly number[] {
  const candidates = new Set<number>()
  for (const guess of [wallMs - DAY_MS, wallMs, wallMs + DAY_MS]) {
    const at = wallMs - offsetMinutes(zone, guess) * MINUTE_MS
    if (at + offsetMinutes(zone, at) * MINUTE_MS === wallMs) candidates.add(at)
  }
  return [...candidates].sort((a, b) => a - b)
}

const formatters = new Map<string, Intl.DateTimeFormat>()

function formatter(zone: string): Intl.DateTimeFormat {
  let known = formatters.get(zone)
  if (known === undefined) {
    known = new Intl.DateTimeFormat('en-GB', {
      timeZone: zone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
    })
    formatters.set(zone, known)
  }
  return known
}
