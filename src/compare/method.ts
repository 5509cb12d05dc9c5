import type { Grab } from '../model/messages.js'
import type { Correlation, GrabPlan } from '../model/plant.js'
import { kept } from '../model/rounding.js'
import { type Method, methodOf, toWholeUnit } from '../model/units.js'
import { madSigma, median } from '../statistics/robust.js'
import type { OtherMethod } from './pair.js'

/**
 * What grab samples read by another method have shown beside the units of a point since the last adjustment: analyzer
 * over result. Plain data.
 */
export interface MethodHabit {
  ratios: number[]
}

/** A result of another method as our method would have it. */
export interface Related {
  /** In the unit of the analyzers. */
  readonly grab: Grab
  readonly byMethod: OtherMethod
  /** Standard uncertainty that the relation adds, NTU: the same for every pair. */
  readonly uNtu: number
}

/** Pairs from which a relation is learnt. */
const LEARNT_FROM = 7
/** Of a level that was never compared, a shift of a tolerance is as likely as none: only its change says something. */
const UNKNOWN_LEVEL = 1
/** Relative standard uncertainty of a site correlation that states none (common practice, no source). */
const CORRELATION_U = 0.05

export function newMethodHabit(): MethodHabit {
  return { ratios: [] }
}

/**
 * Relates a result of another method, by the correlation in the register or else by what its first pairs have shown.
 * White light and near infrared agree on formazin only, so without a correlation the level means nothing.
 * @param toleranceNtu at the level of the point  @returns undefined while the relation is being learnt
 */
export function relateGrab(
  grab: Grab,
  method: Method,
  plan: GrabPlan,
  habit: MethodHabit | undefined,
  toleranceNtu: number,
): Related | undefined {
  const theirs = methodOf(grab.unit)
  const value = toWholeUnit(grab.value, grab.unit)
  const declared = plan.correlation?.[theirs]
  const relation = declared === undefined ? learntRelation(habit) : { ...declared, uRel: uncertaintyOf(declared) }
  if (relation === undefined) return undefined
  const related = relation.slope * value + (relation.interceptNtu ?? 0)
  const uNtu = relation.uRel * Math.abs(related)
  const levelU = uNtu / toleranceNtu
  const { standardUncertainty, ...rest } = grab
  return {
    grab: {
      ...rest,
      value: kept(related),
      unit: method,
      ...(standardUncertainty === undefined
        ? {}
        : { standardUncertainty: kept(relation.slope * toWholeUnit(standardUncertainty, grab.unit)) }),
    },
    byMethod: {
      method: theirs,
      value: kept(value),
      isDeclared: declared !== undefined,
      levelVariance: declared === undefined ? UNKNOWN_LEVEL : kept(levelU * levelU),
    },
    uNtu: kept(uNtu),
  }
}

function uncertaintyOf({ relativeStandardUncertainty }: Correlation): number {
  return relativeStandardUncertainty ?? CORRELATION_U
}

function learntRelation(habit: MethodHabit | undefined): (Correlation & { uRel: number }) | undefined {
  if (habit === undefined || habit.ratios.length < LEARNT_FROM) return undefined
  const slope = median(habit.ratios)
  return { slope, uRel: madSigma(habit.ratios) / (slope * Math.sqrt(LEARNT_FROM)), basis: 'its first pairs' }
}

/** Takes one of the first pairs. @param unitsNtu what the usable units showed */
export function learnMethod(habit: MethodHabit, grab: Grab, unitsNtu: readonly number[]): void {
  const value = toWholeUnit(grab.value, grab.unit)
  if (habit.ratios.length >= LEARNT_FROM || value <= 0 || unitsNtu.length === 0 || grab.qualifier !== undefined) return
  habit.ratios.push(kept(median(unitsNtu) / value))
}
