import type { EvidenceSeries } from '../statistics/changePosterior.js'

/** Values of one line that mix the standing offsets alike, in tolerances at the level of each value. */
export interface EvidenceRows extends EvidenceSeries {
  /** A grab enters once per point; a contrast is a difference between units; an as found is one unit's on a reference. */
  readonly line: 'grab' | 'contrast' | 'verification'
  readonly timesMs: readonly number[]
  readonly levelsNtu: readonly number[]
  readonly tolerancesNtu: readonly number[]
  /** Weight of each unit in each value. */
  readonly weights: readonly (readonly number[])[]
  /** AR(1) coefficient with which a value was whitened against the one before; 0 after a gap. */
  readonly phi: readonly number[]
  /** Read after the window was cleaned: what a film adds is not in it. */
  readonly isClean?: boolean
}

/** The same while it grows. */
export interface Rows {
  timesMs: number[]
  y: number[]
  variance: number[]
  g: number[]
  levelsNtu: number[]
  tolerancesNtu: number[]
  weights: number[][]
  phi: number[]
}

export function newRows(): Rows {
  return { timesMs: [], y: [], variance: [], g: [], levelsNtu: [], tolerancesNtu: [], weights: [], phi: [] }
}
