import { HOUR_MS } from '../../../src/model/time.js'
import { LABEL_CLASSES, type LabelClass, NO_FAULT } from './labels.js'
import { holesOf, meets, moved, type SiteRecord, type Stretch, stretchOf } from './record.js'
import type { Replayed } from './replaySet.js'
import { type Asked, type FoundSpan, WATCH } from './said.js'
import { type Episode, episodesOf } from './truth.js'

/** A label shorter than this is for the readings themselves: no finding is made of it. */
const LONG_MS = 3 * HOUR_MS

/**
 * What may answer to a label: silence only to a gap, any other finding to anything else. A watch is shown by itself: on
 * water whose level changes with the season it stands for weeks.
 */
function answers(kind: LabelClass, finding: string): boolean {
  return finding !== WATCH && (kind === 'gap' || kind === 'hole') === (finding === 'silent')
}

export interface EpisodeResult {
  readonly episode: Episode
  readonly by: FoundSpan | undefined
  /** From the begin of the label until the finding was told; below zero where it was told before. */
  readonly delayH: number | undefined
}

export interface ClassResult {
  readonly kind: LabelClass
  readonly runs: number
  readonly readings: number
  readonly brief: number
  readonly long: readonly EpisodeResult[]
  /** Long episodes that the same findings would meet if they had come at other times. */
  readonly foundByChance: number
  readonly watched: number
  readonly watchedByChance: number
}

export interface FindingResult {
  readonly finding: string
  readonly times: number
  readonly hours: number
  /** Those that share time with a label that stands for something wrong. */
  readonly labelled: number
  readonly labelledByChance: number
}

export interface Comparison {
  readonly replayed: Replayed
  readonly classes: readonly ClassResult[]
  readonly findings: readonly FindingResult[]
  readonly asked: readonly { readonly asked: Asked; readonly labels: readonly LabelClass[] }[]
}

interface Placed<T> {
  readonly of: T
  readonly stretch: Stretch
}

export function compare(replayed: Replayed): Comparison {
  const records = new Map(replayed.records.map(record => [record.site, record]))
  const place = <T extends { readonly site: string }>(of: T, fromMs: number, toMs: number): Placed<T>[] => {
    const record = records.get(of.site)
    return record === undefined ? [] : [{ of, stretch: stretchOf(record, fromMs, toMs) }]
  }
  const labelled = episodesOf([...replayed.runs, ...replayed.records.flatMap(holesOf)])
  const episodes = labelled.flatMap(one => place(one, one.fromMs, one.toMs))
  const found = replayed.found.flatMap(one => place(one, one.sinceMs, one.untilMs))
  const wrong = episodes.filter(({ of }) => !NO_FAULT.includes(of.kind))
  const kinds = [...new Set(replayed.found.map(span => span.finding))].sort()
  return {
    replayed,
    classes: LABEL_CLASSES.flatMap(kind => classResult(kind, episodes, found, records) ?? []),
    findings: kinds.map(finding => {
      const own = found.filter(({ of }) => of.finding === finding)
      const atLabels = (days: number): number =>
        later(own, days, records).filter(stretch => wrong.some(one => meets(stretch, one.stretch))).length
      return {
        finding,
        times: replayed.found.filter(span => span.finding === finding).length,
        hours: own.reduce((sum, { of }) => sum + (of.untilMs - of.sinceMs) / HOUR_MS, 0),
        labelled: atLabels(0),
        labelledByChance: byChance(atLabels),
      }
    }),
    asked: replayed.asked.map(asked => {
      const [at] = place(asked, Math.min(asked.sinceMs, asked.openedMs), asked.untilMs)
      const met = at === undefined ? [] : episodes.filter(one => meets(one.stretch, at.stretch))
      return { asked, labels: [...new Set(met.map(({ of }) => of.kind))].sort() }
    }),
  }
}

function classResult(
  kind: LabelClass,
  episodes: readonly Placed<Episode>[],
  found: readonly Placed<FoundSpan>[],
  records: ReadonlyMap<string, SiteRecord>,
): ClassResult | undefined {
  const own = episodes.filter(({ of }) => of.kind === kind)
  if (own.length === 0) return undefined
  const long = own.filter(({ of }) => of.toMs - of.fromMs >= LONG_MS)
  const answering = found.filter(({ of }) => answers(kind, of.finding))
  const watches = found.filter(({ of }) => of.finding === WATCH)
  const met = (spans: readonly Placed<FoundSpan>[], days: number): number => {
    const stretches = later(spans, days, records)
    return long.filter(one => stretches.some(stretch => meets(stretch, one.stretch))).length
  }
  return {
    kind,
    runs: own.reduce((sum, { of }) => sum + of.runs, 0),
    readings: own.reduce((sum, { of }) => sum + of.readings, 0),
    brief: own.length - long.length,
    long: long.map(({ of: episode, stretch }) => {
      const by = answering.find(one => meets(one.stretch, stretch))?.of
      return { episode, by, delayH: by === undefined ? undefined : (by.toldMs - episode.fromMs) / HOUR_MS }
    }),
    foundByChance: byChance(days => met(answering, days)),
    watched: met(watches, 0),
    watchedByChance: byChance(days => met(watches, days)),
  }
}

function later(
  placed: readonly Placed<FoundSpan>[],
  days: number,
  records: ReadonlyMap<string, SiteRecord>,
): Stretch[] {
  return placed.map(({ stretch }) => {
    const record = records.get(stretch.site)
    return days === 0 || record === undefined ? stretch : moved(stretch, days, record)
  })
}

/** The mean over twelve other times, 17 to 204 days later. */
function byChance(count: (days: number) => number): number {
  const days = Array.from({ length: 12 }, (_, k) => 17 * (k + 1))
  return days.reduce((sum, one) => sum + count(one), 0) / days.length
}

export function classNamed({ classes }: Comparison, kind: LabelClass): ClassResult {
  const found = classes.find(one => one.kind === kind)
  if (found === undefined) throw new RangeError(`no label stands for ${kind}`)
  return found
}

export function foundOf({ long }: ClassResult): number {
  return long.filter(({ by }) => by !== undefined).length
}

export function findingNamed({ findings }: Comparison, finding: string): FindingResult | undefined {
  return findings.find(one => one.finding === finding)
}

/** Requests that would send somebody to clean or to calibrate. */
export function askedForWork({ asked }: Comparison): Asked[] {
  return asked.map(one => one.asked).filter(({ action }) => action !== 'check_signal' && action !== 'check_sample_line')
}
