import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant, HOUR_MS, sayAge, sayDuration, sayInstant } from '../model/time.js'
import type { FindingKind } from '../model/vocabulary.js'
import { type BlockLog, blockAt } from '../qualify/blockLog.js'
import type { GateState } from '../qualify/gate.js'
import { SETTLE_BLOCKS } from '../qualify/gate.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { FINDING_WORDS, sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { BUBBLE_BLOCKS } from './findings.js'
import { methodsDetail } from './methodGrab.js'
import { noUsableUnit } from './noUsableUnit.js'
import type { PointState, UnitFold } from './pointState.js'
import { signDetail } from './signDetail.js'

/** What the reading settles from. */
const AFTER_WORDS: Readonly<Record<GateState['settlingAfter'], string>> = {
  work: 'the work',
  no_flow: 'its sample flow came back',
  restart: 'the restart',
}

/** What there is to say of a finding besides its name: numbers for machines, and the first clause of its sentence. */
export interface FindingDetail {
  readonly values: Readonly<Record<string, string | number>>
  /** "the signal has repeated 0.0431 NTU for 4.0 h, since 9 May 2026, 10:00 UTC" */
  readonly what: string
  /** In place of the usual advice. */
  readonly advice?: string
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
  const own = place.unit === null ? pointDetail(finding, place) : unitDetail(finding, place, place.unit)
  if (own !== undefined) return { ...own, values: { ...age, ...own.values } }
  return { values: age, what: `${FINDING_WORDS[finding] ?? finding} ${sayAge(sinceMs, endMs)}` }
}

function pointDetail(finding: FindingKind, place: FindingPlace): FindingDetail | undefined {
  const { context, state, sinceMs, endMs } = place
  switch (finding) {
    case 'gross_difference': {
      const levels = state.analyzers.flatMap(({ log }) => blockAt(log, endMs)?.medianNtu ?? []).filter(Number.isFinite)
      const spreadNtu = levels.length > 0 ? Math.max(...levels) - Math.min(...levels) : 0
      return {
        values: { differenceNtu: roundTo(spreadNtu, DIGITS.ntu) },
        what: `the units differ by ${sayNtu(spreadNtu)} NTU ${sayAge(sinceMs, endMs)}`,
      }
    }
    case 'no_usable_unit':
      return noUsableUnit(context, state, sinceMs, endMs)
    case 'not_in_service_inferred':
      return inferredDetail(state)
    case 'methods_differ':
      return methodsDetail(context, state)
    default:
      return undefined
  }
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

function unitDetail(finding: FindingKind, place: FindingPlace, i: number): FindingDetail | undefined {
  const { context, state, sinceMs, endMs } = place
  const analyzer = context.analyzers[i]
  const unit = state.fold.units[i]
  const log = state.analyzers[i]?.log
  if (analyzer === undefined || unit === undefined || log === undefined) return undefined
  const block = blockAt(log, endMs)
  const age = sayAge(sinceMs, endMs)
  switch (finding) {
    case 'stuck': {
      const valueNtu = roundTo(block?.medianNtu ?? 0, DIGITS.ntu)
      return { values: { valueNtu }, what: `the signal has repeated ${String(valueNtu)} NTU ${age}` }
    }
    case 'bubbles':
      return bubblesDetail(log, endMs, age)
    case 'exact_factor':
    case 'display_differs':
    case 'follows_daylight':
      return signDetail(finding, context, unit, i)
    case 'beyond_range': {
      const [least, most] = analyzer.rangeNtu
      return {
        values: { rangeLeastNtu: least, rangeMostNtu: most },
        what: `the reading has stood at the end of its range (${String(least)} to ${String(most)} NTU) ${age}`,
      }
    }
    case 'maintenance_forgotten': {
      const byRecord = unit.gate.maintenanceSinceMs !== null
      return {
        values: { source: byRecord ? 'work record' : 'state of the readings' },
        what: `still in maintenance ${age} (${byRecord ? 'by the work record' : "inferred from its readings' state, no record came"})`,
      }
    }
    case 'returned_unsettled':
      return unsettledDetail(log, sinceMs, endMs)
    case 'did_not_settle': {
      const settled = `did not settle within ${sayDuration(context.plant.settlingCapMs)} after ${AFTER_WORDS[unit.gate.settlingAfter]}`
      const capHours = roundTo(context.plant.settlingCapMs / HOUR_MS, 1)
      return { values: { capHours, ...movement(log, endMs).values }, what: `${settled}, ${movement(log, endMs).text}` }
    }
    default:
      return undefined
  }
}

/** Share over the last hours: that of one hour leaps about. */
function bubblesDetail(log: BlockLog, endMs: number, age: string): FindingDetail {
  const shares = BUBBLE_BLOCKS.flatMap(k => blockAt(log, endMs - k * BLOCK_MS)?.bubbleShare ?? [])
  const sharePct = roundTo((100 * shares.reduce((sum, share) => sum + share, 0)) / Math.max(1, shares.length), 0)
  const levelNtu = blockAt(log, endMs)?.medianNtu ?? NaN
  return {
    values: { sharePct, ...(Number.isFinite(levelNtu) ? { levelNtu: roundTo(levelNtu, DIGITS.ntu) } : {}) },
    what: `bubbles raise ${String(sharePct)} % of the readings ${age}`,
    ...(Number.isFinite(levelNtu)
      ? { advice: `the level, ${sayNtu(levelNtu)} NTU, is taken between them: look at degassing, pressure and flow` }
      : {}),
  }
}

function unsettledDetail(log: BlockLog, sinceMs: number, endMs: number): FindingDetail {
  const { values, text } = movement(log, endMs)
  return {
    values,
    what: `put back on ${sayInstant(sinceMs)} before it had settled, ${text} ${sayDuration(endMs - sinceMs)} later`,
  }
}

/** Level now and its change over the last hour. */
function movement(log: BlockLog, endMs: number): { values: Record<string, number>; text: string } {
  const now = blockAt(log, endMs)?.medianNtu ?? NaN
  const before = blockAt(log, endMs - HOUR_MS)?.medianNtu ?? NaN
  if (!Number.isFinite(now)) return { values: {}, text: 'silent' }
  const levelNtu = roundTo(now, DIGITS.ntu)
  const change = roundTo(now - before, DIGITS.ntu)
  if (!Number.isFinite(change) || sayNtu(Math.abs(change)) === '0')
    return { values: { levelNtu }, text: `restless at ${sayNtu(now)} NTU` }
  return {
    values: { levelNtu, changeNtuPerHour: change },
    text: `${change < 0 ? 'falling' : 'rising'} ${sayNtu(Math.abs(change))} NTU an hour at ${sayNtu(now)} NTU`,
  }
}

/** What is said where a finding is over. */
export function endedDetail(finding: FindingKind, place: FindingPlace): FindingDetail {
  const { context, state, unit, sinceMs, endMs } = place
  const hours = roundTo((endMs - sinceMs) / HOUR_MS, 1)
  const after = `after ${sayDuration(endMs - sinceMs)}`
  const fold = unit === null ? undefined : state.fold.units[unit]
  if (finding === 'returned_unsettled' && fold !== undefined)
    return settledDetail(fold, state, unit ?? 0, sinceMs, endMs)
  if (finding === 'not_in_service_inferred') {
    const last = state.fold.inferred.past.at(-1)
    const what =
      state.fold.service.state !== null
        ? `a process state has come and decides from now on, ${after} of inferring`
        : last?.fellBack === true
          ? `back in service ${after}, inferred: the peak of ${sayNtu(last.peakNtu)} NTU has been down for an hour, so its readings count again`
          : `the rise to ${sayNtu(last?.peakNtu ?? 0)} NTU did not fall back within 2 h: no restart, so its readings count again as they are`
    return { values: { hours }, what }
  }
  if (finding === 'no_usable_unit') {
    const usable = context.point.analyzers.filter((_, i) => state.fold.units[i]?.against === null)
    const who = usable.length > 0 ? usable.join(', ') : 'none needed now'
    return { values: { hours }, what: `usable again (${who}) ${after} without a reading since ${sayInstant(sinceMs)}` }
  }
  return {
    values: { hours },
    what: `over now, ${after} since ${sayInstant(sinceMs)}: ${FINDING_WORDS[finding] ?? finding}`,
  }
}

function settledDetail(unit: UnitFold, state: PointState, i: number, sinceMs: number, endMs: number): FindingDetail {
  const age = sayDuration(endMs - sinceMs)
  const hours = roundTo((endMs - sinceMs) / HOUR_MS, 1)
  if (unit.findings.did_not_settle !== undefined || unit.lastUsableMs !== endMs)
    return { values: { hours }, what: `not settled ${age} after it was put back on ${sayInstant(sinceMs)}` }
  const countedMs = endMs - BLOCK_MS
  const stillMs = endMs - SETTLE_BLOCKS * BLOCK_MS
  const levelNtu = blockAt(state.analyzers[i]!.log, endMs)?.medianNtu ?? 0
  return {
    values: {
      hours,
      stillSince: formatInstant(stillMs),
      countedFrom: formatInstant(countedMs),
      levelNtu: roundTo(levelNtu, DIGITS.ntu),
    },
    what: `stands still at ${sayNtu(levelNtu)} NTU since ${sayInstant(stillMs)} and is counted from ${sayInstant(countedMs)}; put back on ${sayInstant(sinceMs)}, it was not counted for ${age}`,
  }
}
