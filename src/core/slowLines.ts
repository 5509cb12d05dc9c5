import { cleanWaterFloor, type Floor, floorOf, floorShare } from '../compare/cleanWaterFloor.js'
import { relatedLine, type Upstream } from '../compare/related.js'
import type { SlowLine } from '../compare/slowLine.js'
import type { Plant, Point } from '../model/plant.js'
import type { PlantState } from './plantState.js'
import type { PointState, UnitFold } from './pointState.js'

/**
 * Looks at the slow lines of every unit beside the other points, where a day has closed or was folded anew. Everything
 * comes from the days and the last works of the points, so the order in which records came does not matter.
 */
export function lookAtSlowLines(state: PlantState, plant: Plant): void {
  const points = [...state.points.values()]
  if (!points.some(point => point.slowIsOld)) return
  const floors = new Map(points.map(point => [point.id, floorsOf(point)]))
  for (const point of points) {
    const registered = plant.points.get(point.id)
    point.slowIsOld = false
    if (registered === undefined) continue
    const others = [...floors].flatMap(([id, all]) => (id === point.id ? [] : (nearest(all) ?? [])))
    point.slow = registered.analyzers.map((id, i) => {
      const tolerance = plant.analyzers.get(id)?.tolerance ?? registered.tolerance
      const floor = floors.get(point.id)?.[i] ?? { days: [], shift: undefined }
      return [...relatedOf(state, plant, registered, point, i), cleanWaterFloor(floor, tolerance, others)]
    })
  }
}

function floorsOf(point: PointState): Floor[] {
  return point.fold.units.map((unit, i) => floorOf(point.days, i, lastTouched(unit)))
}

/** Of a point's units the share nearest zero: where one of two has moved alone the water has not. */
function nearest(floors: readonly Floor[]): number | undefined {
  const shares = floors.flatMap(floor => floorShare(floor) ?? [])
  return shares.sort((a, b) => Math.abs(a) - Math.abs(b))[0]
}

function relatedOf(state: PlantState, plant: Plant, registered: Point, point: PointState, i: number): SlowLine[] {
  const flows = plant.related.find(one => one.downstream === registered.id)
  if (flows === undefined) return []
  const above = flows.upstream.flatMap(id => state.points.get(id) ?? [])
  const upstream: Upstream[] = above.map(({ id, days }) => ({ point: id, days }))
  const sinceMs = Math.max(
    point.fold.units[i]?.adjustedMs ?? 0,
    ...above.flatMap(one => one.fold.units.map(unit => unit.adjustedMs)),
  )
  const tolerance = plant.analyzers.get(registered.analyzers[i] ?? '')?.tolerance ?? registered.tolerance
  return [relatedLine(point.days, i, tolerance, upstream, sinceMs)]
}

/** After a cleaning as after an adjustment the floor is another one. */
function lastTouched({ adjustedMs, cleaningsMs }: UnitFold): number {
  return Math.max(adjustedMs, ...cleaningsMs)
}

/**
 * The slow line that has a unit watched: beside grab samples or a second unit the floor has nothing to add, and no line
 * speaks of the time before work that came since it was looked at.
 */
export function watchingLine(point: PointState, i: number, hasComparator: boolean): SlowLine | undefined {
  const unit = point.fold.units[i]
  const lookedMs = point.days.at(-1)?.endMs ?? 0
  if (unit === undefined || lastTouched(unit) > lookedMs) return undefined
  return (point.slow[i] ?? []).find(
    ({ line, shift }) =>
      shift !== null && shift.isFar && !shift.isCommon && !(line === 'clean_water_floor' && hasComparator),
  )
}
