import type { UnitEstimate } from '../diagnose/estimate.js'
import type { Plant, Point } from '../model/plant.js'
import type { Action, Urgency } from '../model/vocabulary.js'
import type { RankedCause } from './case.js'
import { chooseAction } from './chooseAction.js'
import type { DecisionContext } from './decisionContext.js'
import { rankCauses } from './rankCauses.js'
import { reasonsFor } from './reasons.js'

export interface Decision {
  readonly action: Action
  readonly causes: RankedCause[]
  readonly because: string[]
}

/** From what the posterior and the signs say to the cheapest work that puts it right or parts what is still open. */
export function decide(estimate: UnitEstimate, context: DecisionContext): Decision {
  const causes = rankCauses(estimate, context)
  const { action, because } = chooseAction(causes, estimate, context)
  return { action, causes, because: [...reasonsFor(estimate, context), ...because] }
}

/** `now` may wake somebody, the rest may not. */
export function urgencyOf(estimate: UnitEstimate, point: Point): Urgency {
  const outside = Math.abs(estimate.biasNtu.value) > 0 && isOutside(estimate)
  if (outside && estimate.biasNtu.value < 0 && point.lowIsWorse) return 'now'
  return estimate.pPassesIn7Days >= 0.5 ? 'soon' : 'routine'
}

function isOutside(estimate: UnitEstimate): boolean {
  const { low, high } = estimate.biasNtu
  return low > estimate.toleranceNtu || high < -estimate.toleranceNtu
}

/** Zero water for clean water; above the split the dark response may do (common practice, no source). */
export function zeroMethodFor(plant: Plant, levelNtu: number): 'zero_water' | 'source_off' {
  return levelNtu < plant.zeroWaterBelowNtu ? 'zero_water' : 'source_off'
}
