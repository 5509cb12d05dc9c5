import type { Explanation } from '../core/explanation.js'
import type { RecommendationData } from '../model/events.js'
import { CAUSE_WORDS } from '../recommend/summary.js'
import { biasNow } from './bias.js'
import { liveRecommendation } from './say.js'

export interface Weighed {
  readonly text: string
  readonly probability: number
}

/** Below this an explanation is summed up with its like. */
const LEAST_SHOWN = 0.01

/** Causes with their probabilities; that it is not decided is said by `isUndecided`, not by a row. */
export function namedCauses({ cause: { ranked } }: RecommendationData): readonly Weighed[] {
  const named = ranked.filter(({ cause }) => cause !== 'undecided')
  return (named.length === 0 ? ranked : named).map(({ cause, probability }) => ({
    text: CAUSE_WORDS[cause],
    probability,
  }))
}

export function isUndecided({ cause: { ranked } }: RecommendationData): boolean {
  return ranked[0]?.cause === 'undecided'
}

/**
 * The explanations that were weighed; those of next to no weight in one row. None where nothing independent was
 * compared: that nothing is wrong would then be an assumption, not a finding.
 */
export function shownHypotheses(explanation: Explanation): readonly Weighed[] {
  const { hypotheses } = explanation
  if (biasNow(explanation) === undefined && liveRecommendation(explanation) === undefined) return []
  const shown = hypotheses.filter(({ probability }) => probability >= LEAST_SHOWN)
  const rest = 1 - shown.reduce((sum, { probability }) => sum + probability, 0)
  return rest > LEAST_SHOWN / 2 && shown.length > 0 ? [...shown, { text: 'all others', probability: rest }] : shown
}

/** Signs that the request does not name among its reasons; all of them where nothing is asked. */
export function signsBesides(explanation: Explanation): readonly string[] {
  const because = liveRecommendation(explanation)?.cause.because ?? []
  return explanation.signs.filter(sign => !because.includes(sign))
}
