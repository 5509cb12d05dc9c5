import type { SampleLine } from '../compare/sampleLines.js'

/** Who is off. A number is a unit in the order of the point; a sample line brings several units other water. */
export type Who = number | 'all' | 'laboratory' | 'nobody' | SampleLine
export type Kind = 'zero' | 'span' | 'fouling' | 'none'
/** `growth` is a ramp that gets faster, in proportion to the square of its age, as films do (common practice, no source). */
export type Shape = 'step' | 'ramp' | 'growth'

/** One explanation of the evidence with its weight and the size it then has. */
export interface Hypothesis {
  readonly who: Who
  readonly kind: Kind
  readonly shape: Shape
  /** Begin; with `before` it lies at or before the begin of the evidence. */
  readonly onsetMs: number
  readonly before: boolean
  /** Width of the onset bin. */
  readonly widthMs: number
  /** A film ends at the cleaning after its onset; the size is then the one at that time. Null while it lasts. */
  readonly endedMs: number | null
  readonly weight: number
  /** Size now: NTU for zero and fouling, a fraction for span, tolerances for the laboratory. */
  readonly mean: number
  readonly sd: number
  /** By unit: how much lower its standing offset then is, tolerances for each unit of the size. */
  readonly coupling: readonly number[]
}

/** Level above which a film takes away more gain than it adds offset, NTU (common practice, no source). */
export const FILM_CROSSOVER_NTU = 5

/** What one unit of the size adds to a reading at a level, NTU (for the laboratory: to the difference, in tolerances). */
export function effectAt(kind: Kind, levelNtu: number): number {
  if (kind === 'zero') return 1
  if (kind === 'span') return levelNtu
  if (kind === 'fouling') return 1 - levelNtu / FILM_CROSSOVER_NTU
  return 0
}

/** Share of the size that is there at an instant `atMs` at or after the present: ramps are carried on. */
export function presentShare(hypothesis: Hypothesis, nowMs: number, atMs: number): number {
  if (hypothesis.who === 'nobody' || hypothesis.endedMs !== null) return 0
  return shareAt(hypothesis.shape, hypothesis.onsetMs, nowMs, atMs)
}

/** Share of the full size reached at `atMs`, full at `fullMs`. */
export function shareAt(shape: Shape, onsetMs: number, fullMs: number, atMs: number): number {
  if (atMs <= onsetMs) return 0
  if (shape === 'step') return 1
  const age = (atMs - onsetMs) / Math.max(1, fullMs - onsetMs)
  return shape === 'ramp' ? age : age * age
}
