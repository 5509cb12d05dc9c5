import type { RecommendationData } from '../model/events.js'
import { CARRYING_LINES, type Cause, type Line, LINES, type Outcome } from '../model/vocabulary.js'
import type { PlantState, PublishedCase } from './plantState.js'

/** How often requests of one class of points, carried by one line and named for one cause, ended in which way. */
export interface ScoreRow {
  readonly class: string
  readonly line: Line
  readonly cause: Cause
  readonly outcomes: Readonly<Record<Outcome, number>>
}

/** By `class line cause`. */
export type Scorecard = Map<string, ScoreRow>

/** Of points that name no class. */
const NO_CLASS = 'none'
const NOTHING: Record<Outcome, number> = { confirmed: 0, not_confirmed: 0, found_within_limits: 0, undecided: 0 }

/**
 * Counts how a published request ended, once for each line that carried it. It is shown and weighs nothing: what a line
 * is worth stands in its uncertainty. Counted as the world is told, so that no rebuild counts twice.
 */
export function countOutcome(state: PlantState, known: PublishedCase, outcome: Outcome | undefined): void {
  if (outcome === undefined || known.kind !== 'bias') return
  const { scorecard } = state.published
  const className = classOf(state, known.data.point ?? '')
  const cause = known.told.cause ?? 'undecided'
  for (const line of known.carriedBy) {
    const key = `${className} ${line} ${cause}`
    const row = scorecard.get(key) ?? { class: className, line, cause, outcomes: NOTHING }
    scorecard.set(key, { ...row, outcomes: { ...row.outcomes, [outcome]: row.outcomes[outcome] + 1 } })
  }
}

/** Lines that carry a request: those whose chart stands above its limit, else all that say anything; and those before. */
export function carryingLines({ evidence }: RecommendationData, before: readonly Line[] = []): readonly Line[] {
  const above = evidence.filter(one => one.chart !== undefined && one.chart.statistic >= one.chart.limit)
  const lines = new Set([
    ...before,
    ...(above.length > 0 ? above : evidence.filter(one => one.n > 0 && CARRYING_LINES.includes(one.line))).map(
      one => one.line,
    ),
  ])
  return LINES.filter(line => lines.has(line))
}

/** All rows, or those of a class, by class, line and cause. */
export function scoreRows({ published }: PlantState, className?: string): readonly ScoreRow[] {
  return [...published.scorecard]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([, row]) => row)
    .filter(row => className === undefined || row.class === className)
}

/** The class of a point, as the scorecard names it. */
export function classOf({ register }: PlantState, point: string): string {
  return register?.file.points[point]?.class ?? NO_CLASS
}
