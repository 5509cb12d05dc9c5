import type { UnitEstimate } from '../diagnose/estimate.js'
import { FILM_CROSSOVER_NTU } from '../diagnose/hypothesis.js'
import { roundTo } from '../model/rounding.js'
import type { RankedCause } from './case.js'
import type { DecisionContext } from './decisionContext.js'
import type { NamedCause } from './nextTest.js'
import { OPENING } from './opening.js'
import { weighSign } from './weighSigns.js'

/** How much a source that is seen to fade speaks for a loss of gain: a loss twice as large is no chance any more. */
const AGEING_ODDS = { seen: 30, plain: 1_000, plainPct: 5 } as const
/** Lighter causes are not named. */
const NEGLIGIBLE = 0.01

/**
 * Causes with probabilities: what the posterior says of zero, span and film, and what signs say of them and of causes
 * that the values alone cannot show. Where none reaches 0.9 "undecided" stands first and the rest shows between what.
 */
export function rankCauses(estimate: UnitEstimate, context: DecisionContext): RankedCause[] {
  const weights = weightsOfValues(estimate, context)
  for (const sign of context.signs) {
    const { cause, odds } = weighSign(sign)
    weights.set(cause, (weights.get(cause) ?? 0) + odds)
  }
  let total = 0
  for (const weight of weights.values()) total += weight
  const ranked: RankedCause[] = [...weights]
    .map(([cause, weight]) => ({ cause, probability: roundTo(weight / total, 3) }))
    .filter(one => one.probability >= NEGLIGIBLE)
    .sort((a, b) => b.probability - a.probability)
  const first = ranked[0]?.probability ?? 0
  if (first < OPENING.known) ranked.unshift({ cause: 'undecided', probability: roundTo(1 - first, 3) })
  return ranked
}

/** What the values say, adding to 1: a cleaning or a fading light source moves it between the kinds. */
function weightsOfValues(estimate: UnitEstimate, context: DecisionContext): Map<NamedCause, number> {
  let { zero, fouling, span } = estimate.kinds
  if (context.failed.includes('cleaned')) {
    // What a film would have done is then an offset below the level where it takes more gain than it adds, gain above.
    if (estimate.levelNtu < FILM_CROSSOVER_NTU) zero += fouling
    else span += fouling
    fouling = 0
  }
  const fading = context.signs.find(sign => sign.kind === 'light_source')
  const isAgeing = fading !== undefined && estimate.biasNtu.value < 0
  // A source known to fail explains a loss of gain better than what nobody has seen.
  if (isAgeing) span *= fading.lossPct >= AGEING_ODDS.plainPct ? AGEING_ODDS.plain : AGEING_ODDS.seen
  const total = zero + fouling + span
  if (total === 0) return new Map()
  return new Map<NamedCause, number>([
    [context.zeroWaterSuspect ? 'zero_reference_bad' : 'zero_drift', zero / total],
    [isAgeing ? 'source_ageing' : 'span_drift', span / total],
    ['fouling', fouling / total],
  ])
}
