import type { MonthCount, Substitution } from '../compare/publishedCriteria.js'
import type { Point } from '../model/plant.js'
import type { Criterion } from '../model/publishedRules.js'

/** What the fold keeps for the published criteria of a point. Plain data; null at points that name none. */
export interface CriteriaFold {
  /** The calendar month in hand, by the plant's time zone; 0 before the first block. */
  monthFromMs: number
  monthToMs: number
  readonly units: UnitCriteria[]
  /** Set while no unit counts though the point serves. */
  substitution: Substitution | null
}

export interface UnitCriteria {
  readonly counts: Partial<Record<Criterion, MonthCount>>
  /** Blocks of the month that did not count though the point served. */
  leftOut: number
}

export function newCriteriaFold(point: Point): CriteriaFold | null {
  if (point.criteria.length === 0) return null
  return {
    monthFromMs: 0,
    monthToMs: 0,
    units: point.analyzers.map(() => ({ counts: {}, leftOut: 0 })),
    substitution: null,
  }
}
