/**
 * How large errors really are against what was declared: inverse gamma with a prior worth 30 values, floor 0.7 of
 * declared. Learnt from successive differences, so that a drift does not inflate it; never while a chart signals.
 */
export interface SigmaLearner {
  n: number
  /** Sum of squared standardised values. */
  squares: number
  /** Last standardised residual, null at the begin. */
  last: number | null
}

const PRIOR_VALUES = 30
const FLOOR = 0.7

export function newSigmaLearner(): SigmaLearner {
  return { n: 0, squares: 0, last: null }
}

/** Takes a residual over its declared uncertainty; uses half the squared difference to the one before. */
export function learnSigmaFromDifference(learner: SigmaLearner, standardised: number): void {
  if (learner.last !== null) {
    const difference = standardised - learner.last
    add(learner, (difference * difference) / 2)
  }
  learner.last = standardised
}

/** Factor on the declared uncertainty. */
export function sigmaFactor(learner: SigmaLearner): number {
  return Math.max(FLOOR, Math.sqrt((PRIOR_VALUES + learner.squares) / (PRIOR_VALUES + learner.n)))
}

/** One wild value weighs no more than a four-sigma one; old values fade after some 200. */
function add(learner: SigmaLearner, square: number): void {
  learner.squares += Math.min(16, square)
  learner.n += 1
  if (learner.n > 200) {
    learner.squares /= 2
    learner.n /= 2
  }
}
