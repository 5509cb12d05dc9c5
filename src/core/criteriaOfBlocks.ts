import { isWithin, type MonthCount, shareWithin } from '../compare/publishedCriteria.js'
import type { BlockRule, Criterion } from '../model/publishedRules.js'
import { reported } from '../model/reportingStep.js'
import { roundTo } from '../model/rounding.js'
import { formatInstant, sayInstant } from '../model/time.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { Compared } from './criteriaData.js'
import type { PointFold } from './pointState.js'

/** How the month's 15-minute values of a unit stand beside a published criterion. */
export function blockCriterion(
  context: PointContext,
  fold: PointFold,
  i: number,
  criterion: Criterion,
  rule: BlockRule,
): Compared {
  const unit = fold.criteria?.units[i]
  const count = unit?.counts[criterion]
  const compared = `${comparedWith(context.analyzers[i]?.id ?? '', rule)}; brief peaks taken for bubbles are not in them`
  const within = count === undefined ? undefined : isWithin(count, rule)
  if (unit === undefined || count === undefined || within === undefined) {
    const why =
      rule.kind === 'after_start' && fold.service.state === null
        ? 'the plant sends no process states, so no start is known'
        : 'no such value yet this month'
    return { outcome: 'nothing_to_compare', compared, summary: why, values: {} }
  }
  const toMs = Math.max(count.fromMs + BLOCK_MS, fold.units[i]?.lastUsableMs ?? 0)
  return {
    outcome: within ? 'within' : 'beyond',
    compared,
    from: formatInstant(count.fromMs),
    to: formatInstant(toMs),
    summary: `${said(count, rule)}${leftOut(unit.leftOut)}${untold(fold)}${monthBefore(count, rule)}`,
    values: {
      values: count.n,
      above: count.above,
      ...(rule.kind === 'monthly_share' ? { withinPct: percent(shareWithin(count)) } : { occasions: count.occasions }),
      ...(count.highestNtu === null ? {} : { highestNtu: count.highestNtu }),
      ...(count.lastMs === null || rule.kind === 'monthly_share' ? {} : { lastAt: formatInstant(count.lastMs) }),
      blocksLeftOut: unit.leftOut,
    },
  }
}

/** Medians of blocks stand for the values a plant records; neither a bias nor bubbles are corrected for or left in. */
function comparedWith(id: string, rule: BlockRule): string {
  const values = `medians of 15-minute blocks of ${id}, as read`
  switch (rule.kind) {
    case 'monthly_share':
      return `${values}, with ${String(rule.atMostNtu)} NTU${rule.neverAboveNtu === undefined ? '' : `, and the highest with ${String(rule.neverAboveNtu)} NTU`}`
    case 'two_in_a_row':
      return `each two in a row of the ${values}, with ${String(rule.aboveNtu)} NTU`
    case 'after_start':
      return `the ${values}, at the end of the first ${String(rule.hours)} h after a start and 15 minutes later, with ${String(rule.aboveNtu)} NTU`
  }
}

function said(count: MonthCount, rule: BlockRule): string {
  const { n, occasions, lastMs, monthsBefore } = count
  if (rule.kind === 'monthly_share')
    return `${String(percent(shareWithin(count)))} % of ${String(n)} values at most ${String(rule.atMostNtu)} NTU (criterion ${String(percent(rule.share))} % of the month)${highest(count)}`
  const limit = `${String(rule.aboveNtu)} NTU`
  if (rule.kind === 'after_start')
    return occasions === 0
      ? `above ${limit} after none of ${String(n)} starts`
      : `above ${limit} twice in a row after ${String(occasions)} of ${String(n)} starts, the last at ${sayInstant(lastMs ?? 0)}`
  const months = occasions > 0 ? monthsBefore + 1 : 0
  const inARow = rule.months > 1 ? `; ${String(months)} months in a row (criterion ${String(rule.months)})` : ''
  return occasions === 0
    ? `never two in a row above ${limit} in ${String(n)} values${highest(count)}`
    : `two in a row above ${limit} ${String(occasions)} ${occasions === 1 ? 'time' : 'times'} in ${String(n)} values, the last at ${sayInstant(lastMs ?? 0)}${inARow}${highest(count)}`
}

function highest({ highestNtu, highestMs }: MonthCount): string {
  if (highestNtu === null || highestMs === null) return ''
  const steps = reported(highestNtu)
  const inSteps = steps === highestNtu ? '' : ` (${String(steps)} NTU in the reporting steps of EPA method 180.1)`
  return `; highest ${sayNtu(highestNtu)} NTU${inSteps} at ${sayInstant(highestMs)}`
}

function leftOut(blocks: number): string {
  return blocks === 0 ? '' : `; ${String(blocks)} blocks in service did not count`
}

function untold({ service }: PointFold): string {
  return service.state === null ? '; no process states come, so values while it does not serve count too' : ''
}

function monthBefore({ before }: MonthCount, rule: BlockRule): string {
  if (before === null) return ''
  return rule.kind === 'monthly_share'
    ? `; the month before ${String(percent(shareWithin(before)))} % of ${String(before.n)} values`
    : `; the month before ${String(before.occasions)} times`
}

function percent(share: number): number {
  return roundTo(100 * share, 2)
}
