import type { UnitEstimate } from '../diagnose/estimate.js'

/** Probabilities at which a bias case opens, and at which a cause counts as known. */
export const OPENING = { beyondHalf: 0.7, passesSoon: 0.8, elsewhere: 0.1, known: 0.9 } as const

/** Whether the estimate carries an opening: large enough or soon large enough, and nobody else to blame. */
export function carriesOpening(estimate: UnitEstimate): boolean {
  return isLarge(estimate) && estimate.who.other + estimate.who.laboratory <= OPENING.elsewhere
}

export function isLarge(estimate: UnitEstimate): boolean {
  return estimate.pHalf >= OPENING.beyondHalf || estimate.pPassesIn7Days >= OPENING.passesSoon
}
