import type { BlockRule, PublishedRule, SubstituteGrabsRule } from '../model/publishedRules.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { DAY_MS, HOUR_MS } from '../model/time.js'
import { afterWorkingMs, workingMsBetween } from '../model/localCalendar.js'
import { toleranceAt } from '../model/tolerance.js'
import { BLOCK_MS } from '../qualify/openBlock.js'

/** What one criterion has counted of one unit's 15-minute values in the calendar month in hand. Plain data. */
export interface MonthCount {
  /** Begin of the first block that was counted this month. */
  fromMs: number
  /** Values compared (after a start: pairs of values), and how many were above. */
  n: number
  above: number
  highestNtu: number | null
  highestMs: number | null
  /** Values above in a row, up to the newest. */
  run: number
  /** Times that two in a row were above, each stretch once, and the end of the newest. */
  occasions: number
  lastMs: number | null
  /** Months right before this one with an occasion each. */
  monthsBefore: number
  /** The month before, whole or as far as it was counted. */
  before: { readonly n: number; readonly above: number; readonly occasions: number } | null
}

export function newMonthCount(fromMs: number): MonthCount {
  return {
    fromMs,
    n: 0,
    above: 0,
    highestNtu: null,
    highestMs: null,
    run: 0,
    occasions: 0,
    lastMs: null,
    monthsBefore: 0,
    before: null,
  }
}

/** Closes a month; a stretch above that reaches over its end is the new month's. */
export function nextMonth({ n, above, occasions, run, monthsBefore }: MonthCount, fromMs: number): MonthCount {
  return {
    ...newMonthCount(fromMs),
    run,
    monthsBefore: occasions > 0 ? monthsBefore + 1 : 0,
    before: { n, above, occasions },
  }
}

export function isBlockRule(rule: PublishedRule): rule is PublishedRule & BlockRule {
  return rule.kind === 'monthly_share' || rule.kind === 'two_in_a_row' || rule.kind === 'after_start'
}

/**
 * Takes the value of the block that ends at `endMs`. "Above" is above: a value that equals the limit is not.
 * @param ntu the block's value as read; null where none counts, which also ends a row
 * @param inServiceMs begin of the operation in hand; null where the plant sends no process states
 */
export function countBlock(
  count: MonthCount,
  rule: BlockRule,
  ntu: number | null,
  endMs: number,
  inServiceMs: number | null,
): void {
  if (rule.kind === 'after_start') {
    countAfterStart(count, rule.aboveNtu, ntu, endMs, inServiceMs === null ? null : inServiceMs + rule.hours * HOUR_MS)
    return
  }
  if (ntu === null) {
    count.run = 0
    return
  }
  // Blocks keep single precision: 0.3 comes back as 0.300000012 and must not be above 0.3.
  const value = roundTo(ntu, DIGITS.ntu)
  const isAbove = value > (rule.kind === 'monthly_share' ? rule.atMostNtu : rule.aboveNtu)
  count.n += 1
  if (count.highestNtu === null || value > count.highestNtu)
    Object.assign(count, { highestNtu: value, highestMs: endMs })
  count.run = isAbove ? count.run + 1 : 0
  if (isAbove) count.above += 1
  if (count.run === 2) Object.assign(count, { occasions: count.occasions + 1, lastMs: endMs })
}

/** Compares the block in which the first hours of operation end and the one after it. */
function countAfterStart(
  count: MonthCount,
  aboveNtu: number,
  ntu: number | null,
  endMs: number,
  markMs: number | null,
): void {
  if (markMs === null) return
  const isFirst = endMs >= markMs && endMs - BLOCK_MS < markMs
  const isSecond = endMs - BLOCK_MS >= markMs && endMs - 2 * BLOCK_MS < markMs
  if (!isFirst && !isSecond) return
  const isAbove = ntu !== null && roundTo(ntu, DIGITS.ntu) > aboveNtu
  if (isFirst) count.run = isAbove ? 1 : 0
  if (!isSecond) return
  if (ntu !== null) count.n += 1
  if (count.run === 1 && isAbove) {
    count.above += 1
    Object.assign(count, { occasions: count.occasions + 1, lastMs: endMs })
  }
  count.run = 0
}

/** Whether what was counted stays inside the criterion; undefined where nothing was. */
export function isWithin(count: MonthCount, rule: BlockRule): boolean | undefined {
  if (count.n === 0) return undefined
  if (rule.kind === 'two_in_a_row') return count.occasions === 0 || count.monthsBefore + 1 < rule.months
  if (rule.kind === 'after_start') return count.occasions === 0
  const neverAbove = rule.neverAboveNtu ?? Infinity
  return shareWithin(count) >= rule.share && (count.highestNtu ?? 0) <= neverAbove
}

/** Share of the values that are at most the limit. */
export function shareWithin({ n, above }: Pick<MonthCount, 'n' | 'above'>): number {
  return n === 0 ? 1 : (n - above) / n
}

/** Grab samples that stand in for a reading that has failed. */
export interface Substitution {
  /** Since when no unit of the point counts, in service. */
  readonly sinceMs: number
  lastGrabMs: number | null
  grabs: number
  /** Longest time without a sample so far, from the begin on. */
  longestGapMs: number
}

export function takeSubstitute(substitution: Substitution, sampledMs: number): void {
  const beforeMs = Math.max(substitution.sinceMs, substitution.lastGrabMs ?? 0)
  if (sampledMs <= beforeMs) return
  substitution.longestGapMs = Math.max(substitution.longestGapMs, sampledMs - beforeMs)
  substitution.lastGrabMs = sampledMs
  substitution.grabs += 1
}

export interface SubstitutionUse {
  /** Since the last sample, or since the failure where none has come. */
  readonly sinceSampleMs: number
  readonly allowedGapMs: number
  /** Time used of the time allowed; on working days where the rule counts those. */
  readonly usedMs: number
  readonly allowedMs: number
  readonly untilMs: number
}

/** How much of what the rule allows is used; the time of working days where it counts those. */
export function substitutionUse(
  rule: SubstituteGrabsRule,
  substitution: Substitution,
  zone: string,
  nowMs: number,
): SubstitutionUse {
  const { sinceMs } = substitution
  const allowedMs = rule.days * DAY_MS
  const isWorking = rule.counted === 'working_days'
  const untilMs = isWorking ? afterWorkingMs(zone, sinceMs, allowedMs) : sinceMs + allowedMs
  const endMs = Math.min(nowMs, untilMs)
  return {
    sinceSampleMs: nowMs - Math.max(sinceMs, substitution.lastGrabMs ?? 0),
    allowedGapMs: rule.everyHours * HOUR_MS,
    usedMs: isWorking ? workingMsBetween(zone, sinceMs, endMs) : endMs - sinceMs,
    allowedMs,
    untilMs,
  }
}

/** Greatest difference accepted between a value and its reference by a published criterion, NTU. */
export function acceptedDifference(
  rule: Extract<PublishedRule, { kind: 'verification' | 'bench' }>,
  referenceNtu: number,
): number {
  return rule.kind === 'bench' ? toleranceAt(rule, referenceNtu) : rule.relative * Math.max(0, referenceNtu)
}
