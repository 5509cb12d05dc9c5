import { roundTo } from './rounding.js'

/**
 * Steps in which results are reported, by level: EPA method 180.1 revision 2.0 (1993), section 12. Where a level belongs
 * to two rows the table does not say which; here the finer step of the lower row is taken.
 */
const STEPS: readonly (readonly [toNtu: number, stepNtu: number])[] = [
  [1, 0.05],
  [10, 0.1],
  [40, 1],
  [100, 5],
  [400, 10],
  [1_000, 50],
]
const COARSEST_NTU = 100

/** Step in which a level is reported, NTU. */
export function reportingStep(ntu: number): number {
  return STEPS.find(([toNtu]) => ntu <= toNtu)?.[1] ?? COARSEST_NTU
}

/** A value as it is reported, half up. */
export function reported(ntu: number): number {
  const step = reportingStep(ntu)
  return roundTo(Math.floor(roundTo(ntu / step, 6) + 0.5) * step, 2)
}
