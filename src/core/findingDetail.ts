import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant, HOUR_MS, sayAge, sayInstant } from '../model/time.js'
import type { FindingKind } from '../model/vocabulary.js'
import { blockAt } from '../qualify/blockLog.js'
import { FINDING_WORDS, sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { methodsDetail } from './methodGrab.js'
import { noUsableUnit } from './noUsableUnit.js'
import type { PointState } from './pointState.js'
import { UNIT_DETAILS } from './unitFindings.js'

/** What there is to say of a finding besides its name: numbers for machines, and the first clause of its sentence. */
export interface FindingDetail {
  readonly values: Readonly<Record<string, string | number>>
  /** "the signal has repeated 0.0431 NTU for 4.0 h, since 9 May 2026, 10:00 UTC" */
  readonly what: string
  /** In place of the usual advice. */
  readonly advice?: string
  /** The part of the advice that holds whatever the cause: what to do until a unit is back. */
  readonly meanwhile?: string
}

/** A finding in its place: at a unit of a point, or at the point itself. */
export interface FindingPlace {
  readonly context: PointContext
  readonly state: PointState
  /** Null where the finding is about the point. */
  readonly unit: number | null
  readonly sinceMs: number
  /** End of the newest block. */
  readonly endMs: number
}

export function findingDetail(finding: FindingKind, place: FindingPlace): FindingDetail {
  const { sinceMs, endMs } = place
  const age = { hours: roundTo((endMs - sinceMs) / HOUR_MS, 1) }
  const own = place.unit === null ? POINT_DETAILS[finding]?.(place) : unitDetail(finding, place, place.unit)
  if (own !== undefined) return { ...own, values: { ...age, ...own.values } }
  return { values: age, what: `${FINDING_WORDS[finding] ?? finding} ${sayAge(sinceMs, endMs)}` }
}

function unitDetail(finding: FindingKind, place: FindingPlace, i: number): FindingDetail | undefined {
  const { context, state, sinceMs, endMs } = place
  const analyzer = context.analyzers[i]
  const unit = state.fold.units[i]
  const log = state.analyzers[i]?.log
  if (analyzer === undefined || unit === undefined || log === undefined) return undefined
  return UNIT_DETAILS[finding]?.({ context, analyzer, unit, i, log, sinceMs, endMs })
}

const POINT_DETAILS: Partial<Record<FindingKind, (place: FindingPlace) => FindingDetail | undefined>> = {
  gross_difference: ({ state, sinceMs, endMs }) => {
    const levels = state.analyzers.flatMap(({ log }) => blockAt(log, endMs)?.medianNtu ?? []).filter(Number.isFinite)
    const spreadNtu = levels.length > 0 ? Math.max(...levels) - Math.min(...levels) : 0
    return {
      values: { differenceNtu: roundTo(spreadNtu, DIGITS.ntu) },
      what: `the units differ by ${sayNtu(spreadNtu)} NTU ${sayAge(sinceMs, endMs)}`,
    }
  },
  no_usable_unit: ({ context, state, sinceMs, endMs }) => noUsableUnit(context, state, sinceMs, endMs),
  not_in_service_inferred: ({ state }) => inferredDetail(state),
  methods_differ: ({ context, state }) => methodsDetail(context, state),
}

function inferredDetail({ fold }: PointState): FindingDetail | undefined {
  const { hold } = fold.inferred
  if (hold === null) return undefined
  const seen =
    hold.shape === 'rest'
      ? `${sayNtu(hold.peakNtu)} NTU and climbing without sample flow`
      : `up to ${sayNtu(hold.peakNtu)} NTU at once`
  const climb = hold.aboveSinceMs < hold.sinceMs ? `, above usual since ${sayInstant(hold.aboveSinceMs)}` : ''
  return {
    values: {
      inferredFrom: hold.shape === 'rest' ? 'level and flow' : 'level',
      peakNtu: roundTo(hold.peakNtu, DIGITS.ntu),
      usualNtu: roundTo(hold.usualNtu, DIGITS.ntu),
      aboveUsualSince: formatInstant(hold.aboveSinceMs),
    },
    what: `inferred ${hold.shape === 'rest' ? 'at rest' : 'restarting'} since ${sayInstant(hold.sinceMs)}: ${seen} (usual ${sayNtu(hold.usualNtu)} NTU)${climb}`,
  }
}
