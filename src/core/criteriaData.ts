import { acceptedDifference, isBlockRule } from '../compare/publishedCriteria.js'
import type { CriterionData } from '../model/events.js'
import { type Criterion, type PublishedRule, publishedRule } from '../model/publishedRules.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { DAY_MS, formatInstant, sayInstant } from '../model/time.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { blockCriterion } from './criteriaOfBlocks.js'
import type { PointState } from './pointState.js'
import { substitutionCriterion } from './substituteSampling.js'

/** What is said of one criterion besides its name and source. */
export type Compared = Omit<CriterionData, 'criterion' | 'source' | 'mark'>

/** Grab samples this far back are shown beside the reading. */
const BENCH_DAYS = 30

/**
 * One unit beside each published criterion its point names: what was compared with what, over which time, and how the
 * numbers stand. Apart from every statistical finding, and no verdict.
 * @param nowMs plant time
 */
export function criteriaData(context: PointContext, state: PointState, i: number, nowMs: number): CriterionData[] {
  return context.point.criteria.map(criterion => {
    const rule = publishedRule(criterion)
    return { criterion, source: rule.source, mark: rule.mark, ...compare(context, state, i, criterion, rule, nowMs) }
  })
}

/** Changes when an answer may have changed: such a change is told at once, not with the next full hour. */
export function criteriaKey(state: PointState, i: number): string {
  const { criteria } = state.fold
  if (criteria === null) return ''
  const counts = Object.entries(criteria.units[i]?.counts ?? {}).map(([name, count]) => `${name} ${count.occasions}`)
  return [...counts.sort(), criteria.substitution === null ? '' : 'substituted'].join()
}

function compare(
  context: PointContext,
  state: PointState,
  i: number,
  criterion: Criterion,
  rule: PublishedRule,
  nowMs: number,
): Compared {
  if (isBlockRule(rule)) return blockCriterion(context, state.fold, i, criterion, rule)
  if (rule.kind === 'substitute_grabs') return substitutionCriterion(context, state.fold, rule, nowMs)
  return rule.kind === 'verification'
    ? verificationCriterion(context, state, i, rule)
    : benchCriterion(context, state, i, rule, nowMs)
}

function verificationCriterion(
  context: PointContext,
  state: PointState,
  i: number,
  rule: Extract<PublishedRule, { kind: 'verification' }>,
): Compared {
  const id = context.analyzers[i]?.id ?? ''
  const percent = String(roundTo(100 * rule.relative, 1))
  const compared = `what ${id} read on its standard as found, with the assigned value ± ${percent} %`
  const newest = state.fold.units[i]?.verifications.findLast(one => one.type.endsWith('_standard'))
  if (newest === undefined || newest.assignedNtu <= 0)
    return nothing(compared, 'no value as found on a standard is on record')
  const differenceNtu = newest.foundNtu - newest.assignedNtu
  const differencePct = roundTo((100 * differenceNtu) / newest.assignedNtu, 1)
  const isWithin = Math.abs(differenceNtu) <= acceptedDifference(rule, newest.assignedNtu)
  return {
    outcome: isWithin ? 'within' : 'beyond',
    compared,
    from: formatInstant(newest.atMs),
    to: formatInstant(newest.atMs),
    summary: `${newest.standard ?? 'The standard'} of ${sayNtu(newest.assignedNtu)} NTU read ${sayNtu(newest.foundNtu)} NTU on ${sayInstant(newest.atMs)}: ${String(differencePct)} % off (criterion ${percent} %)`,
    values: { assignedNtu: newest.assignedNtu, foundNtu: newest.foundNtu, differencePct },
  }
}

function benchCriterion(
  context: PointContext,
  state: PointState,
  i: number,
  rule: Extract<PublishedRule, { kind: 'bench' }>,
  nowMs: number,
): Compared {
  const id = context.analyzers[i]?.id ?? ''
  const accepted = `the larger of ${String(rule.absoluteNtu)} NTU and ${String(100 * rule.relative)} %`
  const compared = `${id} as read at the time of each grab sample, with the laboratory's result ± ${accepted}`
  const fromMs = nowMs - BENCH_DAYS * DAY_MS
  const pairs = state.pairs.flatMap(pair => {
    const unit = pair.units[i]
    const isLike = pair.use === 'used' && pair.qualifier === null && pair.byMethod === undefined
    if (!isLike || pair.atMs < fromMs || unit == null) return []
    const isWithin = Math.abs(unit.ntu - pair.grabNtu) <= acceptedDifference(rule, pair.grabNtu) + ROUNDING_NTU
    return [{ atMs: pair.atMs, grabNtu: pair.grabNtu, ntu: unit.ntu, isWithin }]
  })
  const newest = pairs.at(-1)
  if (newest === undefined)
    return nothing(compared, `no grab sample has been paired with it for ${String(BENCH_DAYS)} days`)
  const within = pairs.filter(one => one.isWithin).length
  return {
    outcome: newest.isWithin ? 'within' : 'beyond',
    compared,
    from: formatInstant(pairs[0]?.atMs ?? newest.atMs),
    to: formatInstant(newest.atMs),
    summary: `${String(within)} of ${String(pairs.length)} grab samples within ${accepted}; the newest, ${sayNtu(newest.grabNtu)} NTU beside ${sayNtu(newest.ntu)} NTU on ${sayInstant(newest.atMs)}, is ${newest.isWithin ? 'within' : 'beyond'}`,
    values: {
      pairs: pairs.length,
      within,
      grabNtu: roundTo(newest.grabNtu, DIGITS.ntu),
      ntu: roundTo(newest.ntu, DIGITS.ntu),
    },
  }
}

/** Six kept digits of two values: a difference that equals the limit is not beyond it. */
const ROUNDING_NTU = 1e-6

export function nothing(compared: string, why: string): Compared {
  return { outcome: 'nothing_to_compare', compared, summary: why, values: {} }
}
