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
  /** By unit, in the order of the point; null where the unit was not usable. */
  readonly units: readonly (PairUnit | null)[]
}

/** Numbers have six significant digits: what is kept is what was used. */
export interface PairUnit {
  readonly ntu: number
  /** Standard uncertainty of the difference, without the laboratory's shared part, NTU. */
  readonly uNtu: number
  readonly toleranceNtu: number
  /** Sums of the unit's grab chart after this pair, and its limit then. */
  high: number
  low: number
  limit: number
}

/** Difference analyzer minus grab, net of what the laboratory adds at this point. NTU. */
export function pairResidualNtu(pair: Pair, unit: PairUnit, offsetNtu: number): number {
  const residual = unit.ntu - pair.grabNtu - offsetNtu
  if (pair.qualifier === '<') return Math.max(0, residual)
  if (pair.qualifier === '>') return Math.min(0, residual)
  return residual
}
