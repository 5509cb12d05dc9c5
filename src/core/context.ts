import { type RedundantLine, redundantLines } from '../compare/redundant.js'
import { chartSides } from '../detect/budget.js'
import type { LaboratoryInterval } from '../diagnose/evidence.js'
import type { Analyzer, Plant, Point } from '../model/plant.js'
import { NOTHING_SEEN, type PointSights } from './sights/sights.js'

/** What the fold of one point needs besides its state. */
export interface PointContext {
  readonly plant: Plant
  readonly point: Point
  readonly analyzers: readonly Analyzer[]
  readonly lines: readonly RedundantLine[]
  /** One-sided charts that share an analyzer's false-alarm budget. */
  readonly sides: number
  readonly laboratoryIntervals: readonly LaboratoryInterval[]
  readonly sights: PointSights
}

export function pointContext(
  plant: Plant,
  point: Point,
  laboratoryIntervals: readonly LaboratoryInterval[],
  sights: PointSights = NOTHING_SEEN,
): PointContext {
  return {
    plant,
    point,
    analyzers: point.analyzers.flatMap(id => plant.analyzers.get(id) ?? []),
    lines: redundantLines(point),
    sides: chartSides(point),
    laboratoryIntervals,
    sights,
  }
}
