import type { GrabPlan } from '../model/plant.js'
import { truncatedNormalMoments } from '../statistics/truncatedNormal.js'

/**
 * The laboratory's shared error at a point, seen by one unit: learnt from the first ten pairs after accepted work
 * (before any: of the record). Never learnt while a grab chart signals; the caller sees to that.
 */
export interface OffsetLearner {
  n: number
  /** Sums of 1/u² and of residual/u². */
  weight: number
  weighted: number
  /** Pairs from before the last work (or ten pairs) stand behind `held`, which then waits for ten new ones. */
  settled: boolean
  heldNtu: number
  heldVariance: number
}

/** What is known of the offset. */
export interface LaboratoryOffset {
  readonly ntu: number
  readonly variance: number
}

const PAIRS = 10
/** Standing offset of a healthy unit, standard deviation in tolerances. */
export const STANDING_OFFSET = 0.2

export function newOffsetLearner(plan: GrabPlan): OffsetLearner {
  const prior = cutNormal(0, Infinity, plan.sharedStandardUncertaintyNtu)
  return { n: 0, weight: 0, weighted: 0, settled: false, heldNtu: prior.ntu, heldVariance: prior.variance }
}

/** Begins anew after accepted work. What was known is held meanwhile, so that proof of work rests on it. */
export function restartOffset(learner: OffsetLearner): void {
  learner.settled ||= learner.n > 0
  learner.n = 0
  learner.weight = 0
  learner.weighted = 0
}

/** Takes one pair's residual (analyzer minus grab, NTU). */
export function learnOffset(
  learner: OffsetLearner,
  plan: GrabPlan,
  residualNtu: number,
  uNtu: number,
  toleranceNtu: number,
): void {
  if (learner.n >= PAIRS) return
  learner.n += 1
  learner.weight += 1 / (uNtu * uNtu)
  learner.weighted += residualNtu / (uNtu * uNtu)
  if (learner.settled && learner.n < PAIRS) return
  const standing = STANDING_OFFSET * toleranceNtu
  const known = cutNormal(
    learner.weighted / learner.weight,
    1 / learner.weight + standing * standing,
    plan.sharedStandardUncertaintyNtu,
  )
  learner.heldNtu = known.ntu
  learner.heldVariance = known.variance
}

/** What all units share: the value nearest zero, 0 where signs differ. */
export function sharedOffset(learners: readonly OffsetLearner[]): LaboratoryOffset {
  const [first, ...others] = learners
  if (first === undefined) return { ntu: 0, variance: 0 }
  let nearest = first
  for (const other of others) {
    if (other.heldNtu * nearest.heldNtu < 0)
      return { ntu: 0, variance: Math.max(other.heldVariance, nearest.heldVariance) }
    if (Math.abs(other.heldNtu) < Math.abs(nearest.heldNtu)) nearest = other
  }
  return { ntu: nearest.heldNtu, variance: nearest.heldVariance }
}

/** Prior N(0, shared²) cut at ± shared, times a Gaussian likelihood: mean and variance of what is left. */
function cutNormal(meanNtu: number, variance: number, sharedNtu: number): LaboratoryOffset {
  if (sharedNtu === 0) return { ntu: 0, variance: 0 }
  const priorWeight = 1 / (sharedNtu * sharedNtu)
  const dataWeight = Number.isFinite(variance) ? 1 / variance : 0
  const posteriorVariance = 1 / (priorWeight + dataWeight)
  const moments = truncatedNormalMoments({
    mean: posteriorVariance * dataWeight * meanNtu,
    sd: Math.sqrt(posteriorVariance),
    lower: -sharedNtu,
    upper: sharedNtu,
  })
  return { ntu: moments.mean, variance: moments.variance }
}
