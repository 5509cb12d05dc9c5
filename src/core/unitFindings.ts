import { DIGITS, roundTo } from '../model/rounding.js'
import type { Analyzer } from '../model/plant.js'
import { formatInstant, HOUR_MS, sayAge, sayDuration, sayInstant } from '../model/time.js'
import type { FindingKind } from '../model/vocabulary.js'
import { type BlockLog, blockAt, FLAG } from '../qualify/blockLog.js'
import type { GateState } from '../qualify/gate.js'
import { toleranceAt } from '../model/tolerance.js'
import { jumpThreshold } from '../qualify/erratic.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { FindingDetail } from './findingDetail.js'
import { BUBBLE_BLOCKS } from './findings.js'
import type { UnitFold } from './pointState.js'
import { signDetail } from './signDetail.js'

/** A finding about one unit, with what is known of the unit. */
interface UnitPlace {
  readonly context: PointContext
  readonly analyzer: Analyzer
  readonly unit: UnitFold
  readonly i: number
  readonly log: BlockLog
  readonly sinceMs: number
  readonly endMs: number
}

/** Number, unit and begin of each finding about a unit; one that is missing here is told by its name and age. */
export const UNIT_DETAILS: Partial<Record<FindingKind, (place: UnitPlace) => FindingDetail | undefined>> = {
  stuck: ({ log, sinceMs, endMs }) => {
    const valueNtu = roundTo(blockAt(log, endMs)?.medianNtu ?? 0, DIGITS.ntu)
    return {
      values: { valueNtu },
      what: `the signal has repeated ${String(valueNtu)} NTU ${sayAge(sinceMs, endMs)}`,
    }
  },
  silent: ({ unit, sinceMs, endMs }) => silentDetail(unit, sinceMs, endMs),
  bubbles: ({ log, sinceMs, endMs }) => bubblesDetail(log, endMs, sayAge(sinceMs, endMs)),
  erratic: ({ analyzer, unit, sinceMs, endMs }) => {
    const jumpNtu = jumpThreshold(unit.erratic) * toleranceAt(analyzer.tolerance, unit.levelNtu ?? 0)
    return {
      values: { jumpNtu: roundTo(jumpNtu, DIGITS.ntu) },
      what: `the reading jumps up and down by more than ${sayNtu(jumpNtu)} NTU from block to block ${sayAge(sinceMs, endMs)}`,
    }
  },
  beyond_range: ({ analyzer, sinceMs, endMs }) => {
    const [least, most] = analyzer.rangeNtu
    return {
      values: { rangeLeastNtu: least, rangeMostNtu: most },
      what: `the reading has stood at the end of its range (${String(least)} to ${String(most)} NTU) ${sayAge(sinceMs, endMs)}`,
    }
  },
  maintenance_forgotten: ({ unit, sinceMs, endMs }) => {
    const byRecord = unit.gate.maintenanceSinceMs !== null
    return {
      values: { source: byRecord ? 'work record' : 'state of the readings' },
      what: `still in maintenance ${sayAge(sinceMs, endMs)} (${byRecord ? 'by the work record' : "inferred from its readings' state, no record came"})`,
    }
  },
  returned_unsettled: ({ log, sinceMs, endMs }) => unsettledDetail(log, sinceMs, endMs),
  did_not_settle: ({ context, unit, log, endMs }) => {
    const capMs = context.plant.settlingCapMs
    const { values, text } = movement(log, endMs)
    return {
      values: { capHours: roundTo(capMs / HOUR_MS, 1), ...values },
      what: `did not settle within ${sayDuration(capMs)} after ${AFTER_WORDS[unit.gate.settlingAfter]}, ${text}`,
    }
  },
  exact_factor: ({ context, unit, i }) => signDetail('exact_factor', context, unit, i),
  display_differs: ({ context, unit, i }) => signDetail('display_differs', context, unit, i),
  follows_daylight: ({ context, unit, i }) => signDetail('follows_daylight', context, unit, i),
  comes_late: ({ context, unit, i }) => signDetail('comes_late', context, unit, i),
}

/** What the reading settles from. */
const AFTER_WORDS: Readonly<Record<GateState['settlingAfter'], string>> = {
  work: 'the work',
  no_flow: 'its sample flow came back',
  restart: 'the restart',
}

/** Readings that come, but late, fill their own blocks and move the begin of the silence. */
function silentDetail({ findings }: UnitFold, sinceMs: number, endMs: number): FindingDetail | undefined {
  const newestMs = findings.silent ?? sinceMs
  if (newestMs <= sinceMs) return undefined
  return {
    values: { newestReadingBefore: formatInstant(newestMs) },
    what: `no current reading ${sayAge(sinceMs, endMs)}; those that come are ${sayDuration(endMs - newestMs)} old`,
    advice: 'each is taken at its own time: check clock, gateway and buffer',
  }
}

/** Share over the last hours: that of one hour leaps about. */
function bubblesDetail(log: BlockLog, endMs: number, age: string): FindingDetail {
  const shares = BUBBLE_BLOCKS.flatMap(k => blockAt(log, endMs - k * BLOCK_MS)?.bubbleShare ?? [])
  const sharePct = roundTo((100 * shares.reduce((sum, share) => sum + share, 0)) / Math.max(1, shares.length), 0)
  const block = blockAt(log, endMs)
  const levelNtu = block === undefined || (block.flags & FLAG.levelNotRecoverable) !== 0 ? NaN : block.medianNtu
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
