import type { UnitEstimate } from '../diagnose/estimate.js'
import { FILM_CROSSOVER_NTU } from '../diagnose/hypothesis.js'
import type { WorkAction } from '../model/messages.js'
import type { Plant, Point } from '../model/plant.js'
import { roundTo } from '../model/rounding.js'
import type { Action, Urgency } from '../model/vocabulary.js'
import type { RankedCause } from './case.js'

/** Probabilities at which a bias case opens, and at which a cause counts as known. */
export const OPENING = { beyondHalf: 0.7, passesSoon: 0.8, elsewhere: 0.1, known: 0.9 } as const

/** Whether the estimate carries an opening: large enough or soon large enough, and nobody else to blame. */
export function carriesOpening(estimate: UnitEstimate): boolean {
  return isLarge(estimate) && estimate.who.other + estimate.who.laboratory <= OPENING.elsewhere
}

export function isLarge(estimate: UnitEstimate): boolean {
  return estimate.pHalf >= OPENING.beyondHalf || estimate.pPassesIn7Days >= OPENING.passesSoon
}

export interface Decision {
  readonly action: Action
  readonly causes: RankedCause[]
  readonly because: string[]
}

export interface DecisionContext {
  /**
   * Loss of the light source since its best after the last adjustment, per cent of that; 0 where it shows no falling
   * trend, undefined where no level is reported.
   */
  readonly lightLossPct: number | undefined
  /** Work that was accepted and did not help, newest last. */
  readonly failed: readonly WorkAction[]
  /** The last zero made a right analyzer wrong. */
  readonly zeroWaterSuspect: boolean
}

const AGEING_LOSS_PCT = 2.5
/** Below this a span error is not worth opening the standard for. */
const NEGLIGIBLE_SPAN = 0.05
/** A film this likely is looked for first: cleaning comes before any adjustment anyway. */
const FILM_WORTH_A_LOOK = 0.12
/** Loss of gain beyond what drift does (common practice, no source). */
const LARGE_LOSS = -0.15
/** How much a source that is seen to fade speaks for a loss of gain: a loss twice as large is no chance any more. */
const AGEING_ODDS = { seen: 30, plain: 1_000, plainPct: 5 } as const

/** From what the posterior says to the cheapest work that puts it right or parts what is still open. */
export function decide(estimate: UnitEstimate, context: DecisionContext): Decision {
  const causes = rankCauses(estimate, context)
  const because = reasons(estimate, context)
  const probabilityOf = (cause: RankedCause['cause']): number =>
    causes.find(one => one.cause === cause)?.probability ?? 0
  const zero = probabilityOf('zero_drift') + probabilityOf('zero_reference_bad')
  const span = probabilityOf('span_drift') + probabilityOf('source_ageing')
  const film = probabilityOf('fouling')
  if (context.zeroWaterSuspect) return { action: 'zero', causes, because }
  if (probabilityOf('source_ageing') >= 0.5) return { action: 'inspect', causes, because }
  if (
    !context.failed.includes('cleaned') &&
    film >= (context.failed.length === 0 ? FILM_WORTH_A_LOOK : 0.5) &&
    (film + zero >= 0.5 || estimate.pRamp >= 0.5)
  ) {
    because.push('telemetry alone cannot part a film on the window from a drifted zero: clean first, then read again')
    return { action: 'clean_then_verify', causes, because }
  }
  if (zero >= OPENING.known || span <= NEGLIGIBLE_SPAN) return { action: 'zero', causes, because }
  if (span >= OPENING.known && (estimate.model?.spanRel.value ?? 0) <= LARGE_LOSS) {
    because.push('a loss of gain this large points to a film or a failing source, not to drift: look before adjusting')
    return { action: 'inspect', causes, because }
  }
  if (span >= OPENING.known) {
    because.push('span follows a zero in most cases (common practice)')
    return { action: context.failed.includes('zero') ? 'span' : 'zero_and_span', causes, because }
  }
  because.push('zero and span cannot be parted at the levels seen: the zero check and the standard tell')
  return { action: 'zero_and_span', causes, because }
}

/** Causes with probabilities; where none reaches 0.9 "undecided" stands first and the rest shows between what. */
function rankCauses(estimate: UnitEstimate, context: DecisionContext): RankedCause[] {
  let { zero, fouling, span } = estimate.kinds
  if (context.failed.includes('cleaned')) {
    // What a film would have done is then an offset below the level where it takes more gain than it adds, gain above.
    if (estimate.levelNtu < FILM_CROSSOVER_NTU) zero += fouling
    else span += fouling
    fouling = 0
  }
  const ageing =
    context.lightLossPct !== undefined && context.lightLossPct >= AGEING_LOSS_PCT && estimate.biasNtu.value < 0
  // A source known to fail explains a loss of gain better than what nobody has seen.
  if (ageing) {
    const odds = context.lightLossPct >= AGEING_ODDS.plainPct ? AGEING_ODDS.plain : AGEING_ODDS.seen
    const total = zero + fouling + odds * span
    zero /= total
    fouling /= total
    span = (odds * span) / total
  }
  const ranked: RankedCause[] = [
    {
      cause: context.zeroWaterSuspect ? ('zero_reference_bad' as const) : ('zero_drift' as const),
      probability: roundTo(zero, 3),
    },
    { cause: ageing ? ('source_ageing' as const) : ('span_drift' as const), probability: roundTo(span, 3) },
    { cause: 'fouling' as const, probability: roundTo(fouling, 3) },
  ]
    .filter(one => one.probability >= 0.01)
    .sort((a, b) => b.probability - a.probability)
  if ((ranked[0]?.probability ?? 0) < OPENING.known)
    ranked.unshift({ cause: 'undecided', probability: roundTo(1 - (ranked[0]?.probability ?? 0), 3) })
  return ranked
}

function reasons(estimate: UnitEstimate, context: DecisionContext): string[] {
  const because: string[] = []
  const biasNtu = estimate.biasNtu.value
  const waterNtu = Math.max(0, estimate.levelNtu - biasNtu)
  if (estimate.toleranceNtu > 0.3 * waterNtu) {
    const needed = (100 * Math.abs(biasNtu)) / Math.max(1e-9, waterNtu)
    const said = needed > 100 ? 'more than 100' : String(Math.round(needed))
    because.push(`in water of ${say(waterNtu)} NTU a span error would have to be ${said} %, which is hard to believe`)
  }
  if (biasNtu < 0 && waterNtu < FILM_CROSSOVER_NTU)
    because.push('a film on the window does not pull a low reading down')
  if (context.lightLossPct !== undefined && context.lightLossPct >= AGEING_LOSS_PCT) {
    because.push(`the light source has lost ${String(Math.round(context.lightLossPct))} % of its level`)
  }
  if (context.failed.includes('cleaned')) because.push('cleaning did not move the reading, so it is not a film')
  for (const action of context.failed)
    if (action !== 'cleaned') because.push(`the last ${say(action)} did not put it right`)
  if (estimate.who.all > 0.3) because.push('all units of the point may be off together: their agreement proves nothing')
  return because
}

function say(value: number | string): string {
  return typeof value === 'number' ? String(roundTo(value, value < 1 ? 3 : 1)) : value.replaceAll('_', ' ')
}

/** @see design: `now` may wake somebody, the rest may not */
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
