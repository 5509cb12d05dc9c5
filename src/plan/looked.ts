import { pointContext } from '../core/context.js'
import type { PlantState } from '../core/plantState.js'
import type { PointState } from '../core/pointState.js'
import type { Point } from '../model/plant.js'
import { type Due, dueByForecast, dueByHabit, dueByRequest, dueByRule, type Moment } from './dueDates.js'
import { proofOf } from './proof.js'
import type { Proof } from './visitPlan.js'

/** One analyzer with everything that decides whether it is visited. */
export interface Looked {
  readonly analyzer: string
  readonly point: Point
  readonly state: PointState
  readonly unit: number
  readonly proof: Proof | undefined
  /** By date; without habit where the evidence is good, for habit alone then sends nobody. */
  readonly dues: readonly Due[]
  readonly habit: Due | undefined
}

/** Every unit of a point as the plan sees it. */
export function lookAt(state: PlantState, moment: Moment, point: Point): Looked[] {
  const own = state.points.get(point.id)
  if (own === undefined) return []
  const context = pointContext(moment.plant, point, state.laboratory.intervals)
  return point.analyzers.map((analyzer, i) => {
    const unit = own.fold.units[i]!
    const proof = proofOf(context, own, i, state.published.statuses.get(analyzer)?.data)
    const requested = dueByRequest(state.published.cases.get(analyzer))
    const [habit] = dueByHabit(moment, point, unit)
    const dues = [
      ...requested,
      ...dueByRule(moment, point, unit),
      ...(requested.length > 0 ? [] : dueByForecast(moment, unit)),
      ...(proof === undefined && habit !== undefined ? [habit] : []),
    ]
    return { analyzer, point, state: own, unit: i, proof, dues: dues.sort((a, b) => a.byMs - b.byMs), habit }
  })
}

/** What falls into the days ahead; a request is never left out of them. */
export function inPlan({ dues }: Looked, endMs: number): readonly Due[] {
  return dues.filter(one => one.byMs <= endMs || one.reason === 'request')
}
