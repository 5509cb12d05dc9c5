import { type Substitution, substitutionUse } from '../compare/publishedCriteria.js'
import { publishedRule, type SubstituteGrabsRule } from '../model/publishedRules.js'
import { roundTo } from '../model/rounding.js'
import { formatInstant, HOUR_MS, sayInstant } from '../model/time.js'
import type { PointContext } from './context.js'
import type { Compared } from './criteriaData.js'
import type { PointFold } from './pointState.js'

/** Grab samples in place of readings, beside the rule the register names. */
export function substitutionCriterion(
  context: PointContext,
  fold: PointFold,
  rule: SubstituteGrabsRule,
  nowMs: number,
): Compared {
  const { point } = context
  const compared = `time since the last grab sample at ${point.id} with ${String(rule.everyHours)} h, and time without a usable unit in service with ${sayAllowed(rule)}`
  const substitution = fold.criteria?.substitution ?? null
  if (substitution === null)
    return {
      outcome: 'within',
      compared,
      summary: `a unit of ${point.id} counts, so no grab sample has to stand in for it`,
      values: {},
    }
  const use = substitutionUse(rule, substitution, context.plant.timeZone, nowMs)
  const longestMs = Math.max(use.sinceSampleMs, substitution.longestGapMs)
  return {
    outcome: longestMs > use.allowedGapMs || nowMs > use.untilMs ? 'beyond' : 'within',
    compared,
    from: formatInstant(substitution.sinceMs),
    to: formatInstant(nowMs),
    summary: `no unit of ${point.id} counts since ${sayInstant(substitution.sinceMs)}; ${sinceSample(substitution, use.sinceSampleMs, rule)}, longest ${hours(longestMs)} h; ${hours(use.usedMs)} h of ${hours(use.allowedMs)} h used${countedOn(rule, context)}, until ${sayInstant(use.untilMs)}`,
    values: {
      hoursSinceSample: roundTo(use.sinceSampleMs / HOUR_MS, 1),
      everyHours: rule.everyHours,
      hoursUsed: roundTo(use.usedMs / HOUR_MS, 1),
      hoursAllowed: roundTo(use.allowedMs / HOUR_MS, 1),
      samples: substitution.grabs,
      until: formatInstant(use.untilMs),
    },
  }
}

/** What to do by the rule while no unit of a point counts: for the message that tells it. */
export interface SamplingByRule {
  /** "sample by hand every 4 h, at most 5 working days (40 CFR 141.174(b))" */
  readonly ask: string
  /** "0.5 h of 120 h used"; empty where nothing is counted. */
  readonly used: string
  readonly values: Readonly<Record<string, string | number>>
}

/** Undefined where the register names neither a published rule for such samples nor the site's own. */
export function samplingByRule(context: PointContext, fold: PointFold, nowMs: number): SamplingByRule | undefined {
  const { point, plant } = context
  const basis = point.basis === undefined ? {} : { siteRule: point.basis }
  for (const criterion of point.criteria) {
    const rule = publishedRule(criterion)
    if (rule.kind !== 'substitute_grabs') continue
    const rules = { rule: criterion, source: rule.source, ...basis }
    const ask = `sample by hand every ${String(rule.everyHours)} h, at most ${sayAllowed(rule)} (${rule.source})`
    const substitution = fold.criteria?.substitution ?? null
    if (substitution === null) return { ask, used: '', values: rules }
    const use = substitutionUse(rule, substitution, plant.timeZone, nowMs)
    return {
      ask,
      used: `${hours(use.usedMs)} h of ${hours(use.allowedMs)} h used`,
      values: {
        ...rules,
        everyHours: rule.everyHours,
        hoursUsed: roundTo(use.usedMs / HOUR_MS, 1),
        hoursAllowed: roundTo(use.allowedMs / HOUR_MS, 1),
        until: formatInstant(use.untilMs),
      },
    }
  }
  return point.basis === undefined
    ? undefined
    : { ask: `sample by hand as ${point.basis} says`, used: '', values: basis }
}

function sayAllowed({ days, counted }: SubstituteGrabsRule): string {
  return `${String(days)} ${counted === 'working_days' ? 'working days' : 'days'}`
}

function sinceSample({ grabs }: Substitution, sinceSampleMs: number, { everyHours }: SubstituteGrabsRule): string {
  const since = `${hours(sinceSampleMs)} h of ${String(everyHours)} h since`
  return grabs === 0 ? `${since} then without a sample` : `${since} the last of ${String(grabs)} samples`
}

function countedOn({ counted }: SubstituteGrabsRule, { plant }: PointContext): string {
  return counted === 'working_days' ? ` (Monday to Friday by ${plant.timeZone}; holidays are not known)` : ''
}

function hours(ms: number): string {
  return String(roundTo(ms / HOUR_MS, 1))
}
