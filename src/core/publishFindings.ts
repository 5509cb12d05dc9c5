import type { PlantEvent } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import type { FindingKind } from '../model/vocabulary.js'
import { emit } from './emit.js'
import { findingData } from './findingData.js'
import type { PlantState, ToldFinding } from './plantState.js'
import type { PointState } from './pointState.js'

type Where = Omit<ToldFinding, 'finding' | 'sinceMs'>

/**
 * Tells the begin and the end of each finding at a point and its units.
 * @param hushed analyzers whose silence has a common cause that is told in their place
 */
export function publishFindings(
  state: PlantState,
  plant: Plant,
  point: PointState,
  hushed: ReadonlySet<string>,
  nowMs: number,
): PlantEvent[] {
  const events: PlantEvent[] = []
  plant.points.get(point.id)?.analyzers.forEach((id, i) => {
    const { silent, ...others } = point.fold.units[i]?.findings ?? {}
    const own = silent === undefined || hushed.has(id) ? others : { ...others, silent }
    events.push(...compare(state, plant, id, own, { analyzer: id, point: point.id }, nowMs))
  })
  events.push(...compare(state, plant, point.id, point.fold.findings, { analyzer: null, point: point.id }, nowMs))
  return events
}

/** One finding for a feed that is down or catching up, in place of one for each of its silent analyzers. */
export function publishFeeds(state: PlantState, plant: Plant, nowMs: number): PlantEvent[] {
  const nowhere = { analyzer: null, point: null }
  const known = [...state.published.findings.values()].filter(one => one.finding === 'feed_down')
  const feeds = new Set([...state.feedsDown, ...known.map(one => one.feed ?? '')])
  return [...feeds].sort().flatMap(feed => {
    const current = state.feedsDown.includes(feed) ? { feed_down: nowMs } : {}
    return compare(state, plant, `feed:${feed}`, current, { ...nowhere, feed }, nowMs)
  })
}

function compare(
  state: PlantState,
  plant: Plant,
  subject: string,
  current: Partial<Record<FindingKind, number>>,
  where: Where,
  nowMs: number,
): PlantEvent[] {
  const events: PlantEvent[] = []
  const told = state.published.findings
  const tell = (one: ToldFinding, phase: 'began' | 'ended'): void => {
    events.push(emit(state, 'analyzer.finding', subject, nowMs, findingData(state, plant, subject, one, phase, nowMs)))
  }
  for (const finding of Object.keys(current).sort() as FindingKind[]) {
    const key = `${subject} ${finding}`
    if (told.has(key)) continue
    const one = { finding, sinceMs: current[finding] ?? nowMs, ...where }
    told.set(key, one)
    tell(one, 'began')
  }
  for (const [key, one] of [...told].sort(([a], [b]) => (a < b ? -1 : 1))) {
    // A point may have the name of its only analyzer.
    if (key !== `${subject} ${one.finding}` || one.analyzer !== where.analyzer) continue
    if (current[one.finding] !== undefined) continue
    told.delete(key)
    tell(one, 'ended')
  }
  return events
}
