import type { Method } from '../model/units.js'
import type { Exclusion } from '../model/vocabulary.js'

/** One grab sample beside what each unit of the point showed for the same water. Kept about two months. */
export interface Pair {
  /** Time of sampling. */
  readonly atMs: number
  /** In the whole unit of the point's analyzers; the bound where there is a qualifier. */
  readonly grabNtu: number
  readonly qualifier: '<' | '>' | null
  readonly sampleId: string | null
  readonly laboratoryInstrument: string | null
  /** `used`, `suspect` while it waits for the next pair, or why it was left out. */
  use: 'used' | 'suspect' | Exclusion
  /** Where the laboratory measured by another method; `grabNtu` is then what the relation makes of its result. */
  readonly byMethod?: OtherMethod
  /** By unit, in the order of the point; null where the unit was not usable. */
  readonly units: readonly (PairUnit | null)[]
}

export interface OtherMethod {
  readonly method: Method
  /** As reported, in the whole unit of that method. */
  readonly value: number
  /** A correlation from the register relates levels; without one the first pairs after work do, and only change counts. */
  readonly isDeclared: boolean
  /** Variance of the level that the relation leaves open, tolerances squared. */
  readonly levelVariance: number
}

/** Numbers have six significant digits: what is kept is what was used. */
export interface PairUnit {
  readonly ntu: number
  /** Standard uncertainty of the difference, without the laboratory's shared part, NTU. */
  readonly uNtu: number
  readonly toleranceNtu: number
  /** Size of the level's rate of change at the time, which u counts with the uncertainty of the sample's time. */
  readonly rateNtuPerH: number
  /** Sums of the unit's grab chart after this pair, and its limit then. */
  high: number
  low: number
  limit: number
}

/**
 * Difference analyzer minus grab, net of what the laboratory adds at this point. NTU. A relation learnt from the first
 * pairs of another method has that in it already.
 */
export function pairResidualNtu(pair: Pair, unit: PairUnit, offsetNtu: number): number {
  const residual = unit.ntu - pair.grabNtu - (pair.byMethod?.isDeclared === false ? 0 : offsetNtu)
  if (pair.qualifier === '<') return Math.max(0, residual)
  if (pair.qualifier === '>') return Math.min(0, residual)
  return residual
}
