import { foundOutside } from '../compare/verification.js'
import type { Case } from '../recommend/case.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'
import { sayReference } from './watchSentence.js'
import { mean } from '../statistics/mean.js'

/** Where a case lives: the point and, where it is about an analyzer, the unit. */
export interface Place {
  readonly context: PointContext
  readonly point: PointState
  readonly unit: number
}

/** What shows the bias of a case, in words. */
export interface Witnesses {
  readonly words: readonly string[]
  /** Nothing but results below or above a limit shows it: the bias is at least so large. */
  readonly isBound: boolean
}

/**
 * Grab samples since the onset that chart it, the reference on which the unit was found outside its limit, and the other
 * units that differ from it as the bias says.
 */
export function witnessesOf(place: Place, open: Case): Witnesses {
  const onsetMs = open.estimate?.onset?.estimateMs ?? open.openedMs
  const unit = place.point.fold.units[place.unit]
  const pairs = place.point.pairs.filter(
    pair =>
      pair.use === 'used' &&
      pair.atMs >= onsetMs &&
      pair.atMs > (unit?.adjustedMs ?? 0) &&
      pair.units[place.unit] != null,
  )
  const grabs = pairs.length
  const outside = unit === undefined ? undefined : foundOutside(unit.verifications, unit.adjustedMs)
  const others = place.context.point.analyzers.filter((_, i) => i !== place.unit && differs(place, i, open))
  return {
    words: [
      ...(grabs > 0 ? [`${String(grabs)} ${grabs === 1 ? 'grab' : 'grabs'}`] : []),
      ...(outside === undefined ? [] : [sayReference(outside)]),
      ...others,
    ],
    isBound: grabs > 0 && outside === undefined && others.length === 0 && pairs.every(pair => pair.qualifier !== null),
  }
}

/** Newest differences of two units over which their mean is taken. */
const DIFFERENCES = 8

/** A unit that has gone the same way shows nothing: then their difference is not what the bias says. */
function differs({ point, unit }: Place, other: number, { estimate }: Case): boolean {
  const between = point.differences.slice(-DIFFERENCES).flatMap(({ deviationsNtu }) => {
    const own = deviationsNtu[unit]
    const its = deviationsNtu[other]
    return own == null || its == null ? [] : [own - its]
  })
  if (estimate === null || between.length === 0) return false
  return mean(between) / estimate.biasNtu.value > 0.5
}
