import { learnMethod, newMethodHabit, relateGrab, type Related } from '../compare/method.js'
import type { Grab } from '../model/messages.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { DAY_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { type Method, methodOf } from '../model/units.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { FindingDetail } from './findingDetail.js'
import type { LoggedPair, PointFold, PointState } from './pointState.js'

/** Without another such sample for so long nobody need be told any more that methods differ. */
const FORGOTTEN_MS = 30 * DAY_MS

/** Whether a sample was read by another method than the analyzers of the point. */
export function otherMethod(context: PointContext, grab: Grab): Method | undefined {
  const theirs = methodOf(grab.unit)
  return theirs === context.analyzers[0]?.method ? undefined : theirs
}

/** The sample as our method would have it; undefined while the relation is being learnt. */
export function relateAt(context: PointContext, fold: PointFold, grab: Grab): Related | undefined {
  const [analyzer] = context.analyzers
  if (analyzer === undefined) return undefined
  const levels = fold.units.flatMap(unit => unit.levelNtu ?? [])
  const toleranceNtu = toleranceAt(context.point.tolerance, levels[0] ?? 0)
  return relateGrab(grab, analyzer.method, context.point.grab, fold.methods[methodOf(grab.unit)], toleranceNtu)
}

/** Learns from a pair that has no relation yet. */
export function learnFrom(fold: PointFold, grab: Grab, pair: LoggedPair): void {
  const habit = (fold.methods[methodOf(grab.unit)] ??= newMethodHabit())
  learnMethod(
    habit,
    grab,
    pair.units.flatMap(unit => unit?.ntu ?? []),
  )
}

/** Notes that samples come by a method of which only changes can be used. */
export function noteMethod(context: PointContext, fold: PointFold, grab: Grab): void {
  const method = methodOf(grab.unit)
  if (context.point.grab.correlation?.[method] !== undefined) return
  const known = fold.methodsDiffer?.method === method ? fold.methodsDiffer : null
  fold.methodsDiffer = { method, sinceMs: known?.sinceMs ?? grab.sampledMs, lastMs: grab.sampledMs }
}

/** Since when methods differ, while they do. */
export function methodsDifferSince({ methodsDiffer }: PointFold, endMs: number): number | undefined {
  return methodsDiffer === null || endMs - methodsDiffer.lastMs > FORGOTTEN_MS ? undefined : methodsDiffer.sinceMs
}

const METHOD_WORDS: Readonly<Record<Method, string>> = { NTU: 'white light', FNU: 'near infrared', FAU: 'attenuation' }

/** What there is to say of it: the newest such sample beside the units, and how a correlation is declared. */
export function methodsDetail(context: PointContext, state: PointState): FindingDetail | undefined {
  const { methodsDiffer } = state.fold
  const [analyzer] = context.analyzers
  if (methodsDiffer === null || analyzer === undefined) return undefined
  const theirs = methodsDiffer.method
  const ours = analyzer.method
  const newest = state.pairs.findLast(pair => pair.atMs === methodsDiffer.lastMs)
  const unitNtu = newest?.units.find(unit => unit !== null)?.ntu
  const value = newest === undefined ? undefined : (newest.byMethod?.value ?? newest.grabNtu)
  const lately =
    value === undefined || unitNtu === undefined
      ? ''
      : `, lately ${sayNtu(value)} ${theirs} beside ${sayNtu(unitNtu)} ${ours}`
  return {
    values: {
      method: theirs,
      analyzerMethod: ours,
      ...(value === undefined ? {} : { newest: roundTo(value, DIGITS.ntu) }),
      ...(unitNtu === undefined ? {} : { analyzer: roundTo(unitNtu, DIGITS.ntu) }),
    },
    what: `methods differ, ${METHOD_WORDS[theirs]} against ${METHOD_WORDS[ours]}${lately}; they agree on formazin only, so the level is not compared, its change is`,
    advice: `declare a site correlation: points.${context.point.id}.grab.correlation.${theirs}`,
  }
}
