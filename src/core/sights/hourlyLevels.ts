import { kept } from '../../model/rounding.js'
import { HOUR_MS } from '../../model/time.js'
import { median } from '../../statistics/robust.js'

/** Hourly levels of a point, by unit, of blocks that count: half a day of them, newest last. Part of the fold. */
export interface HourlyLevels {
  /** Blocks of the hour in hand. */
  rows: (number | null)[][]
  hours: (number | null)[][]
  /** Usual size of a change over half a day, as a share of the level, and how many it was learnt from. */
  usual: number
  n: number
}

/** The newest hour is held against the six hours that ended six hours before it. */
const HOURS = 13
const BEFORE_HOURS = 6
const LEAST_HOURS = 3
const USUAL = { begin: 0.08, weight: 1 / 12, cap: 3, everyMs: 6 * HOUR_MS } as const

export function newHourlyLevels(): HourlyLevels {
  return { rows: [], hours: [], usual: USUAL.begin, n: 0 }
}

export function takeLevels(levels: HourlyLevels, row: readonly (number | null)[], endMs: number): void {
  levels.rows.push([...row])
  if (endMs % HOUR_MS !== 0) return
  levels.hours.push(row.map((_, i) => medianOf(levels.rows, i)))
  levels.hours = levels.hours.slice(-HOURS)
  levels.rows = []
  if (endMs % USUAL.everyMs !== 0) return
  const moved = levelChange(levels)
  if (moved === undefined) return
  levels.usual += USUAL.weight * (Math.min(Math.abs(moved.share), USUAL.cap * levels.usual) - levels.usual)
  levels.n += 1
}

export interface LevelChange {
  /** Change over the mean of both levels, of the units the one that moved least; 0 where they moved apart. */
  readonly share: number
  readonly beforeNtu: number
  readonly nowNtu: number
  /** Change of each unit that has both levels, NTU. */
  readonly byUnitNtu: readonly { readonly unit: number; readonly changeNtu: number }[]
}

/** How the level of the newest hour stands to that of half a day before. */
export function levelChange({ hours }: HourlyLevels): LevelChange | undefined {
  if (hours.length < HOURS) return undefined
  const units = (hours.at(-1) ?? []).flatMap((now, unit) => {
    const before = medianOf(hours.slice(0, BEFORE_HOURS), unit, LEAST_HOURS)
    return now === null || before === null ? [] : [{ unit, now, before }]
  })
  if (units.length === 0) return undefined
  const nowNtu = median(units.map(one => one.now))
  const beforeNtu = median(units.map(one => one.before))
  const least = units.reduce((a, b) => (Math.abs(b.now - b.before) < Math.abs(a.now - a.before) ? b : a))
  const together = units.every(one => (one.now - one.before) * (least.now - least.before) > 0)
  const middle = (least.now + least.before) / 2
  return {
    share: together && middle > 0 ? kept((least.now - least.before) / middle) : 0,
    beforeNtu: kept(beforeNtu),
    nowNtu: kept(nowNtu),
    byUnitNtu: units.map(one => ({ unit: one.unit, changeNtu: kept(one.now - one.before) })),
  }
}

/** Hours since the level has been more than half way from where it was to where it is; 0 in the newest hour. */
export function hoursSinceHalfway({ hours }: HourlyLevels, { beforeNtu, nowNtu }: LevelChange): number {
  let since = 0
  for (let k = hours.length - 1; k >= 0; k--) {
    const values = (hours[k] ?? []).filter(value => value !== null)
    if (values.length === 0) continue
    if ((median(values) - (beforeNtu + nowNtu) / 2) * (nowNtu - beforeNtu) <= 0) break
    since = hours.length - 1 - k
  }
  return since
}

function medianOf(rows: readonly (readonly (number | null)[])[], unit: number, least = 1): number | null {
  const values = rows.map(row => row[unit] ?? null).filter(value => value !== null)
  return values.length < least ? null : kept(median(values))
}
