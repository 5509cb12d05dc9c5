import { pairResidualNtu } from '../../compare/pair.js'
import type { Plant, Point } from '../../model/plant.js'
import { HOUR_MS } from '../../model/time.js'
import { toleranceAt } from '../../model/tolerance.js'
import { median } from '../../statistics/robust.js'
import type { PlantState } from '../plantState.js'
import type { PointState } from '../pointState.js'
import { hoursSinceHalfway, type LevelChange, levelChange } from './hourlyLevels.js'

/** Levels that moved together while the differences to references stayed: the process, not the analyzers. */
export interface ProcessChange {
  /** The point, where it is one alone whose units moved together. */
  readonly alone: string | null
  readonly direction: 1 | -1
  /** First hour in which it was seen: its name. */
  readonly beganMs: number
  readonly fromMs: number
  /** Null while the levels move. */
  untilMs: number | null
  /** It is told once it has been seen in two hours. */
  seen: number
  points: MovedPoint[]
}

export interface MovedPoint {
  readonly point: string
  readonly fromMs: number
  readonly beforeNtu: number
  readonly nowNtu: number
  /** Units that moved alike (0 where there is no second one), and grab samples since then that fit. */
  readonly units: number
  readonly grabs: number
}

/** A level has moved beyond this share of itself, so many times its usual change, and so many tolerances. */
const COMMON = { share: 0.15, ofUsual: 3, tolerances: 0.2, points: 3 } as const
const ALONE = { share: 0.5, ofUsual: 4, tolerances: 2 } as const
/** Half-day changes a point must have shown before its usual one is known. */
const LEARNT = 4
/** Units moved alike where their changes differ by less than this, in tolerances or as a share of the change. */
const ALIKE = { tolerances: 0.5, share: 0.15 } as const
const GRAB_FITS = { u: 3, tolerances: 0.5 } as const

/** Takes a full hour: opens, carries on and ends changes of the process. */
export function followProcess(
  changes: readonly ProcessChange[],
  state: PlantState,
  plant: Plant,
  endMs: number,
): ProcessChange[] {
  const moved = [...state.points.values()].flatMap(point => {
    const registered = plant.points.get(point.id)
    return registered === undefined ? [] : (movedAt(registered, plant, point, endMs) ?? [])
  })
  const seen: ProcessChange[] = []
  // A point that moved before the others keeps its own: it is not over because they follow.
  const isOpenAlone = (point: string, direction: 1 | -1): boolean =>
    changes.some(one => one.untilMs === null && one.alone === point && one.direction === direction)
  for (const direction of [1, -1] as const) {
    const together = moved.filter(one => directionOf(one) === direction)
    const common = together.length >= COMMON.points
    if (common) seen.push(begun(null, direction, together, endMs))
    for (const one of together)
      if (common ? isOpenAlone(one.point, direction) : one.steep) seen.push(begun(one.point, direction, [one], endMs))
  }
  const isSame = (one: ProcessChange, other: ProcessChange): boolean =>
    one.alone === other.alone && one.direction === other.direction
  const followed = changes.map(change => {
    if (change.untilMs !== null) return change
    const again = seen.find(one => isSame(one, change))
    return again === undefined ? { ...change, untilMs: endMs } : carriedOn(change, again)
  })
  const isNew = (one: ProcessChange): boolean => !followed.some(known => known.untilMs === null && isSame(known, one))
  return [...followed.filter(one => one.untilMs === null || one.seen >= TOLD_AFTER), ...seen.filter(isNew)]
}

/** Hours in which it must have been seen before it is told. */
export const TOLD_AFTER = 2

interface Moved extends MovedPoint {
  readonly steep: boolean
}

function directionOf({ beforeNtu, nowNtu }: MovedPoint): 1 | -1 {
  return nowNtu > beforeNtu ? 1 : -1
}

function begun(alone: string | null, direction: 1 | -1, moved: readonly Moved[], beganMs: number): ProcessChange {
  const points = moved.map(({ steep: _steep, ...one }) => one)
  const fromMs = Math.min(...points.map(one => one.fromMs))
  return { alone, direction, beganMs, fromMs, untilMs: null, seen: 1, points }
}

/** A point stays with the largest change it showed; references add up. */
function carriedOn(change: ProcessChange, again: ProcessChange): ProcessChange {
  const known = new Map(change.points.map(one => [one.point, one]))
  for (const one of again.points) {
    const before = known.get(one.point)
    known.set(one.point, before === undefined ? one : { ...one, fromMs: before.fromMs, beforeNtu: before.beforeNtu })
  }
  const points = [...known.values()].sort((a, b) => (a.point < b.point ? -1 : 1))
  return { ...change, seen: change.seen + 1, points }
}

/** How a point moved with the process, or undefined: not far, or a reference speaks against it. */
function movedAt(registered: Point, plant: Plant, state: PointState, endMs: number): Moved | undefined {
  const { levels } = state.fold
  const change = levelChange(levels)
  if (change === undefined || levels.n < LEARNT) return undefined
  const size = Math.abs(change.share)
  const toleranceNtu = toleranceAt(registered.tolerance, (change.beforeNtu + change.nowNtu) / 2)
  const tolerances = Math.abs(change.nowNtu - change.beforeNtu) / toleranceNtu
  if (size < Math.max(COMMON.share, COMMON.ofUsual * levels.usual) || tolerances < COMMON.tolerances) return undefined
  const fromMs = endMs - (hoursSinceHalfway(levels, change) + 1) * HOUR_MS
  const units = unitsAlike(registered, plant, change, toleranceNtu)
  const grabs = grabsThatFit(state, fromMs)
  if (units === undefined || grabs === undefined) return undefined
  const steep =
    size >= Math.max(ALONE.share, ALONE.ofUsual * levels.usual) &&
    tolerances >= ALONE.tolerances &&
    (units > 0 || grabs > 0)
  return { point: registered.id, fromMs, beforeNtu: change.beforeNtu, nowNtu: change.nowNtu, units, grabs, steep }
}

/** Units that moved alike, 0 where no two on lines of their own tell; undefined where they moved apart. */
function unitsAlike(
  registered: Point,
  plant: Plant,
  { byUnitNtu }: LevelChange,
  toleranceNtu: number,
): number | undefined {
  if (byUnitNtu.length < 2) return 0
  const changes = byUnitNtu.map(one => one.changeNtu)
  const largest = Math.max(...changes.map(Math.abs))
  const apart = Math.max(...changes) - Math.min(...changes)
  if (apart > Math.max(ALIKE.tolerances * toleranceNtu, ALIKE.share * largest)) return undefined
  const lines = byUnitNtu.map(({ unit }) => plant.analyzers.get(registered.analyzers[unit] ?? '')?.sampleLine ?? unit)
  return new Set(lines).size < 2 ? 0 : changes.length
}

/** Grab samples since then that stand to the reading as those before did; undefined where all speak against it. */
function grabsThatFit(state: PointState, fromMs: number): number | undefined {
  let n = 0
  let fit = 0
  for (let k = state.pairs.length - 1; k >= 0; k--) {
    const pair = state.pairs[k]
    if (pair === undefined || pair.atMs < fromMs) break
    if (pair.use !== 'used' && pair.use !== 'suspect') continue
    const fits = pair.units.flatMap((paired, i) => {
      if (paired === null) return []
      const recent = state.fold.units[i]?.grab.recentResiduals ?? []
      const usualNtu = recent.length > 0 ? median(recent) * paired.toleranceNtu : 0
      const offNtu = Math.abs(pairResidualNtu(pair, paired, 0) - usualNtu)
      return [offNtu <= Math.max(GRAB_FITS.u * paired.uNtu, GRAB_FITS.tolerances * paired.toleranceNtu)]
    })
    if (fits.length === 0) continue
    n += 1
    if (fits.every(one => one)) fit += 1
  }
  return n > 0 && fit === 0 ? undefined : fit
}
