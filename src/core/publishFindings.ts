import type { FindingData, PlantEvent } from '../model/events.js'
import type { Point } from '../model/plant.js'
import { formatInstant, sayInstant } from '../model/time.js'
import type { FindingKind } from '../model/vocabulary.js'
import { FINDING_WORDS } from '../recommend/summary.js'
import { emit } from './emit.js'
import type { PlantState } from './plantState.js'
import type { PointState } from './pointState.js'

/** Tells the begin and the end of each finding at a point and its units. */
export function publishFindings(state: PlantState, point: PointState, registered: Point, nowMs: number): PlantEvent[] {
  const events: PlantEvent[] = []
  registered.analyzers.forEach((id, i) => {
    events.push(...compare(state, id, point.fold.units[i]?.findings ?? {}, { analyzer: id, point: point.id }, nowMs))
  })
  events.push(...compare(state, point.id, point.fold.findings, { analyzer: null, point: point.id }, nowMs))
  return events
}

interface Where {
  readonly analyzer: string | null
  readonly point: string | null
  readonly feed?: string
}

/** One finding for a feed that is down or catching up, in place of one for each of its silent analyzers. */
export function publishFeeds(state: PlantState, nowMs: number): PlantEvent[] {
  const nowhere = { analyzer: null, point: null }
  const known = [...state.published.findings.values()].filter(one => one.finding === 'feed_down')
  const feeds = new Set([...state.feedsDown, ...known.map(one => one.feed ?? '')])
  return [...feeds].sort().flatMap(feed => {
    const current = state.feedsDown.includes(feed) ? { feed_down: nowMs } : {}
    return compare(state, `feed:${feed}`, current, { ...nowhere, feed }, nowMs)
  })
}

function compare(
  state: PlantState,
  subject: string,
  current: Partial<Record<FindingKind, number>>,
  where: Where,
  nowMs: number,
): PlantEvent[] {
  const events: PlantEvent[] = []
  const told = state.published.findings
  for (const finding of Object.keys(current).sort() as FindingKind[]) {
    const key = `${subject} ${finding}`
    if (told.has(key)) continue
    const sinceMs = current[finding] ?? nowMs
    told.set(key, { finding, sinceMs, ...where })
    events.push(emit(state, 'analyzer.finding', subject, nowMs, data(subject, finding, 'began', sinceMs, where, nowMs)))
  }
  for (const [key, one] of [...told].sort(([a], [b]) => (a < b ? -1 : 1))) {
    if (key !== `${subject} ${one.finding}` || current[one.finding] !== undefined) continue
    told.delete(key)
    events.push(
      emit(state, 'analyzer.finding', subject, nowMs, data(subject, one.finding, 'ended', one.sinceMs, where, nowMs)),
    )
  }
  return events
}

function data(
  subject: string,
  finding: FindingKind,
  phase: 'began' | 'ended',
  sinceMs: number,
  where: Where,
  nowMs: number,
): FindingData {
  return {
    summary: sentence(subject, finding, phase, sinceMs, where.feed),
    notify: finding === 'no_usable_unit' && phase === 'began' ? 'at_once' : 'shift_summary',
    ...(where.analyzer === null ? {} : { analyzer: where.analyzer }),
    ...(where.point === null ? {} : { point: where.point }),
    finding,
    phase,
    since: formatInstant(sinceMs),
    ...(phase === 'ended' ? { until: formatInstant(nowMs) } : {}),
    detail: {},
  }
}

function sentence(
  subject: string,
  finding: FindingKind,
  phase: 'began' | 'ended',
  sinceMs: number,
  feed: string | undefined,
): string {
  const words = FINDING_WORDS[finding] ?? finding
  const since = sayInstant(sinceMs)
  if (phase === 'ended')
    return feed === undefined
      ? `${subject}: it is over that ${words}; it began on ${since}.`
      : `The feed ${feed} is no longer down; it was since ${since}.`
  const what = feed === undefined ? `${subject}: ${words}` : `The feed ${feed} is down`
  return `${what} since ${since}; ${ADVICE[finding] ?? 'the readings do not count until it is over'}.`
}

const ADVICE: Partial<Record<FindingKind, string>> = {
  stuck: 'the readings do not count; compare the display with the recorded value',
  silent: 'nothing is known of it meanwhile; check power, output and gateway',
  bubbles: 'the level is taken between them; look at degassing, pressure and flow',
  no_flow: 'the readings do not count; restore the flow by site procedure',
  maintenance_forgotten: 'it is not watched meanwhile; end maintenance when the work is done',
  did_not_settle: 'its readings count again, with care; look for bubbles and flow',
  gross_difference: 'the charts decide; look at all of them before trusting one',
  feed_down: 'its analyzers are not called silent meanwhile; check broker and network',
  no_usable_unit: 'start manual sampling as the local rule requires and restore the quickest unit',
}
