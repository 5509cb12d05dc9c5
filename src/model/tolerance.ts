/** Greatest error accepted at a level: the larger of an absolute part and a part of the level. */
export interface Tolerance {
  readonly absoluteNtu: number
  readonly relative: number
}

/** @param levelNtu true or reference level; a level below zero counts as zero  @returns NTU */
export function toleranceAt(tolerance: Tolerance, levelNtu: number): number {
  return Math.max(tolerance.absoluteNtu, tolerance.relative * Math.max(0, levelNtu))
}
