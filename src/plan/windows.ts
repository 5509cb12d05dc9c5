import { atLocalTime, localDay, type LocalSpan } from '../model/localCalendar.js'

/** A time in which one unit of a point can be out. */
export interface Window extends LocalSpan {
  /** False for the time before the first half day: nights and weekends are for what cannot wait. */
  readonly isHalfDay: boolean
}

/** Minutes after local midnight: a morning and an afternoon, Monday to Friday (common practice, no source). */
const HALF_DAYS = [
  [8 * 60, 12 * 60],
  [13 * 60, 17 * 60],
] as const

/**
 * Windows from an instant on, oldest first: the half days of working days, and before the first of them the time up to
 * it, for what cannot wait until then.
 */
export function windowsFrom(zone: string, fromMs: number, untilMs: number): Window[] {
  const windows: Window[] = []
  for (let day = localDay(zone, fromMs); day.fromMs < untilMs; day = localDay(zone, day.toMs)) {
    if (!day.isWorkingDay) continue
    for (const [begin, end] of HALF_DAYS) {
      const [beginMs, endMs] = [atLocalTime(zone, day.fromMs, begin), atLocalTime(zone, day.fromMs, end)]
      if (endMs > fromMs) windows.push({ fromMs: Math.max(fromMs, beginMs), toMs: endMs, isHalfDay: true })
    }
  }
  const [first] = windows
  const isBefore = first === undefined || first.fromMs > fromMs
  return isBefore ? [{ fromMs, toMs: first?.fromMs ?? untilMs, isHalfDay: false }, ...windows] : windows
}

/** A unit of one point that is to be visited. */
export interface Wanted {
  readonly analyzer: string
  /** To be done by then. */
  readonly byMs: number
  /** `soon`: as early as a half day allows; `now`: at once; `by_date`: as late as its date allows. */
  readonly when: 'now' | 'soon' | 'by_date'
}

export interface Placed {
  readonly window: Window
  /** No window was left that ends by the date. */
  readonly late: boolean
}

/**
 * Gives each unit of a point a window of its own, so that never two of them are out at once. Dates first, the last of
 * them as late as it may be and each earlier one before it; that leaves none late that need not be. What is overdue or
 * wanted soon takes the earliest windows that are left.
 */
export function placeVisits(wanted: readonly Wanted[], windows: readonly Window[]): Map<string, Placed> {
  const placed = new Map<string, Placed>()
  const taken = new Set<number>()
  const put = (analyzer: string, k: number, byMs: number): void => {
    taken.add(k)
    const window = windows[k]!
    placed.set(analyzer, { window, late: window.toMs > byMs })
  }
  const rest: Wanted[] = []
  const byDate = wanted.filter(one => one.when === 'by_date').sort((a, b) => b.byMs - a.byMs || order(b, a))
  let before = windows.length
  for (const one of byDate) {
    const last = windows.findLastIndex((window, k) => k < before && window.toMs <= one.byMs)
    if (last < 0) rest.push(one)
    else put(one.analyzer, (before = last), one.byMs)
  }
  const pressing = [...wanted.filter(one => one.when !== 'by_date'), ...rest]
  for (const one of pressing.sort((a, b) => rank(a) - rank(b) || a.byMs - b.byMs || order(a, b))) {
    const first = windows.findIndex(({ isHalfDay }, k) => !taken.has(k) && (isHalfDay || one.when === 'now'))
    if (first < 0) throw new RangeError(`no window is left for ${one.analyzer}: ${String(windows.length)} are too few`)
    put(one.analyzer, first, one.byMs)
  }
  return placed
}

function rank({ when }: Wanted): number {
  return when === 'now' ? 0 : when === 'soon' ? 1 : 2
}

function order(a: Wanted, b: Wanted): number {
  return a.analyzer < b.analyzer ? -1 : 1
}
