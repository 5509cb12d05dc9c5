import type { CloudEvent } from '../../../src/model/cloudEvent.js'
import type { FindingData, RecommendationData, StatusData, WorkVerdictData } from '../../../src/model/events.js'

/** A finding from its begin to its end, or to the end of the record. */
export interface FoundSpan {
  readonly site: string
  readonly finding: string
  readonly sinceMs: number
  /** When it was told. */
  readonly toldMs: number
  readonly untilMs: number
}

export interface Asked {
  readonly site: string
  readonly action: string
  readonly cause: string
  readonly sinceMs: number
  readonly openedMs: number
  readonly untilMs: number
  readonly summary: string
}

/** What an event is about, as a site. */
export type SiteOf = (subject: string) => string

export function spansOf(events: readonly CloudEvent[], siteOf: SiteOf, toMs: number): FoundSpan[] {
  const spans: FoundSpan[] = []
  const open = new Map<string, number>()
  for (const { type, subject, time, data } of events) {
    if (type !== 'turbidrift.analyzer.finding') continue
    const { finding, phase, since } = data as FindingData
    const key = `${subject} ${finding}`
    const at = open.get(key)
    if (phase === 'ended' && at !== undefined) {
      spans[at] = { ...spans[at]!, untilMs: Date.parse(time) }
      open.delete(key)
    } else if (at === undefined) {
      open.set(key, spans.length)
      const sinceMs = Date.parse(since)
      spans.push({ site: siteOf(subject), finding, sinceMs, toldMs: Date.parse(time), untilMs: toMs })
    }
  }
  return spans
}

/** A status in place of a finding. */
export const WATCH = 'status watch'

/** A status of `watch` or `doubtful`: the weak lines and the charts, without a finding of their own. */
export function watchesOf(events: readonly CloudEvent[], siteOf: SiteOf, toMs: number): FoundSpan[] {
  const spans: FoundSpan[] = []
  const open = new Map<string, number>()
  for (const { type, subject, time, data } of events) {
    if (type !== 'turbidrift.analyzer.status') continue
    const { assessment } = data as StatusData
    const atMs = Date.parse(time)
    const at = open.get(subject)
    const isWatched = assessment === 'watch' || assessment === 'doubtful'
    if (isWatched && at === undefined) {
      open.set(subject, spans.length)
      spans.push({ site: siteOf(subject), finding: WATCH, sinceMs: atMs, toldMs: atMs, untilMs: toMs })
    } else if (!isWatched && at !== undefined) {
      spans[at] = { ...spans[at]!, untilMs: atMs }
      open.delete(subject)
    }
  }
  return spans
}

export function askedOf(events: readonly CloudEvent[], siteOf: SiteOf, toMs: number): Asked[] {
  const asked: Asked[] = []
  for (const { type, subject, time, data } of events) {
    const atMs = Date.parse(time)
    if (type === 'turbidrift.recommendation.opened') {
      const { action, cause, summary, onset } = data as RecommendationData
      asked.push({
        site: siteOf(subject),
        action,
        cause: cause.ranked[0]?.cause ?? '',
        sinceMs: onset === undefined ? atMs : Date.parse(onset.estimate),
        openedMs: atMs,
        untilMs: toMs,
        summary,
      })
    } else if (/recommendation\.(closed|withdrawn)$/.test(type)) {
      const at = asked.findLastIndex(one => one.site === siteOf(subject) && one.untilMs === toMs)
      if (at >= 0) asked[at] = { ...asked[at]!, untilMs: atMs }
    }
  }
  return asked
}

export function verdictsOf(events: readonly CloudEvent[]): Map<string, number> {
  const counts = new Map<string, number>()
  for (const { type, data } of events) {
    if (!type.startsWith('turbidrift.work.')) continue
    const key = `${(data as WorkVerdictData).work.action} ${type.slice('turbidrift.work.'.length)}`
    counts.set(key, (counts.get(key) ?? 0) + 1)
  }
  return counts
}
