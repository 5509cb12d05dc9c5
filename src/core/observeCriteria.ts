import { countBlock, isBlockRule, newMonthCount, nextMonth, takeSubstitute } from '../compare/publishedCriteria.js'
import { localMonth } from '../model/localCalendar.js'
import type { Grab } from '../model/messages.js'
import { type Criterion, publishedRule } from '../model/publishedRules.js'
import type { Exclusion } from '../model/vocabulary.js'
import { blockAt } from '../qualify/blockLog.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import type { PointContext } from './context.js'
import { type CriteriaFold, newCriteriaFold, type UnitCriteria } from './criteriaState.js'
import type { PointFold, PointState } from './pointState.js'

/**
 * Counts the block that ends at `endMs` for the published criteria of the point. They look at what is
 * shown, so what follows a start counts here though the charts leave it out. Runs after the gates of the block.
 */
export function observeCriteria(context: PointContext, state: PointState, grabs: readonly Grab[], endMs: number): void {
  const { fold } = state
  if (context.point.criteria.length === 0) {
    fold.criteria = null
    return
  }
  fold.criteria ??= newCriteriaFold(context.point)
  if (fold.criteria === null) return
  turnMonth(context, fold.criteria, endMs)
  const isServing = servesWholeBlock(fold, endMs)
  const shownNtu = fold.units.map((unit, i) => {
    const counts = unit.against === null || OUT_FOR_CHARTS.has(unit.against)
    const ntu = counts && isServing ? blockAt(state.analyzers[i]!.log, endMs)?.medianNtu : undefined
    return ntu === undefined || Number.isNaN(ntu) ? null : ntu
  })
  fold.criteria.units.forEach((unit, i) => {
    const ntu = shownNtu[i] ?? null
    if (isServing && ntu === null) unit.leftOut += 1
    countUnit(context, unit, ntu, endMs, operationBegan(fold))
  })
  watchSubstitution(fold, fold.criteria, grabs, isServing, shownNtu, endMs)
}

/** A block belongs to the month in which it begins. */
function turnMonth(context: PointContext, criteria: CriteriaFold, endMs: number): void {
  const beginMs = endMs - BLOCK_MS
  if (beginMs < criteria.monthToMs) return
  const { fromMs, toMs } = localMonth(context.plant.timeZone, beginMs)
  const isFirst = criteria.monthToMs === 0
  Object.assign(criteria, { monthFromMs: fromMs, monthToMs: toMs })
  if (isFirst) return
  for (const unit of criteria.units) {
    unit.leftOut = 0
    for (const [criterion, count] of Object.entries(unit.counts))
      unit.counts[criterion as Criterion] = nextMonth(count, fromMs)
  }
}

function countUnit(
  context: PointContext,
  unit: UnitCriteria,
  ntu: number | null,
  endMs: number,
  inServiceMs: number | null,
): void {
  for (const criterion of Object.keys(unit.counts) as Criterion[])
    if (!context.point.criteria.includes(criterion)) Reflect.deleteProperty(unit.counts, criterion)
  for (const criterion of context.point.criteria) {
    const rule = publishedRule(criterion)
    if (!isBlockRule(rule)) continue
    const count = (unit.counts[criterion] ??= newMonthCount(endMs - BLOCK_MS))
    countBlock(count, rule, ntu, endMs, inServiceMs)
  }
}

/** What is left out of the charts only: the hours after a start, and what looks like a restart and may be a breakthrough. */
const OUT_FOR_CHARTS: ReadonlySet<Exclusion> = new Set(['not_in_service', 'not_in_service_inferred'])

/** Only a process state takes a value out: where none come the point is taken to serve. */
function servesWholeBlock({ service }: PointFold, endMs: number): boolean {
  if (service.state === null) return true
  return service.state === 'in_service' && endMs - BLOCK_MS >= service.sinceMs
}

/** Null where the plant has not told when the operation in hand began. */
function operationBegan({ service }: PointFold): number | null {
  return service.state === 'in_service' && service.sinceMs > 0 ? service.sinceMs : null
}

/** A failure lasts over a rest of the filter: only a value that counts ends it. */
function watchSubstitution(
  fold: PointFold,
  criteria: CriteriaFold,
  grabs: readonly Grab[],
  isServing: boolean,
  shownNtu: readonly (number | null)[],
  endMs: number,
): void {
  const heard = fold.units.some(unit => unit.lastUsableMs !== null)
  if (shownNtu.some(ntu => ntu !== null)) criteria.substitution = null
  else if (isServing && heard && criteria.substitution === null)
    criteria.substitution = { sinceMs: endMs - BLOCK_MS, lastGrabMs: null, grabs: 0, longestGapMs: 0 }
  if (criteria.substitution === null) return
  for (const grab of grabs) takeSubstitute(criteria.substitution, grab.sampledMs)
}
