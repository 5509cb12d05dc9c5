import type { DatedWork } from '../core/datedWork.js'
import type { PublishedCase } from '../core/plantState.js'
import type { UnitFold } from '../core/pointState.js'
import { endOfDayAfter } from '../model/localCalendar.js'
import type { Plant, Point } from '../model/plant.js'
import { sayDay } from '../model/time.js'
import type { Urgency } from '../model/vocabulary.js'
import { sayNtu } from '../recommend/summary.js'
import { ACTION_PHRASE } from './phrases.js'
import type { PlannedWork, Reason } from './visitPlan.js'

/** Something that is due at an analyzer, by an instant. */
export interface Due {
  readonly reason: Reason
  readonly work: PlannedWork
  readonly byMs: number
  readonly urgency: Urgency
  /** Days after which the rule or the habit asks again; undefined where it is asked once. */
  readonly everyDays?: number
  readonly text: string
  /** The same without sizes and sources, for where there is little room. */
  readonly brief: string
}

/** What the plan goes by besides the register: plant time and the begin of the record. */
export interface Moment {
  readonly plant: Plant
  readonly nowMs: number
  readonly startedMs: number
}

/** Dates required by rule: due whatever the charts say. Work that is not on record is due now. */
export function dueByRule({ plant, nowMs }: Moment, point: Point, unit: UnitFold): Due[] {
  const { required } = point
  if (required === undefined) return []
  const { verification, calibration, notCounted } = unit.dates
  const rule = (work: 'verification' | 'calibration', days: number | undefined, last: DatedWork | null): Due[] => {
    if (days === undefined) return []
    const refused = notCounted?.work === work && notCounted.atMs > (last?.atMs ?? 0) ? notCounted : undefined
    const notUsed = refused === undefined ? '' : `; that of ${sayDay(refused.atMs)} does not count: ${refused.why}`
    const text =
      last === null
        ? `${work} not on record: due now by rule, every ${String(days)} days (${required.basis})${notUsed}`
        : `${work} due by rule, ${String(days)} days after ${sayDay(last.atMs)} (${required.basis})${notUsed}`
    const brief = last === null ? `${work} not on record: due now by rule` : `${work} due by rule`
    const byMs = last === null ? nowMs : endOfDayAfter(plant.timeZone, last.atMs, days)
    return [{ reason: 'rule', work, byMs, urgency: 'routine', everyDays: days, text, brief }]
  }
  return [
    ...rule('verification', required.verificationDays, verification),
    ...rule('calibration', required.calibrationDays, calibration),
  ]
}

/** The open request about the analyzer, unless it was rejected or waits for proof of work that is done. */
export function dueByRequest(known: PublishedCase | undefined): Due[] {
  if (known?.phase !== 'open' || known.answer === 'rejected') return []
  const { action, urgency, respondBy } = known.data
  const deferredMs = known.answer === 'deferred' ? known.answerUntilMs : null
  const until = deferredMs === null ? '' : `, deferred until ${sayDay(deferredMs)}`
  return [
    {
      reason: 'request',
      work: action,
      byMs: deferredMs ?? Date.parse(respondBy),
      urgency: deferredMs === null ? urgency : 'routine',
      text: `${ACTION_PHRASE[action]} asked for since ${sayDay(known.openedMs)}${until}`,
      brief: `${ACTION_PHRASE[action]} asked for`,
    },
  ]
}

/** Where a drift is foreseen to pass the tolerance before anything is asked for. */
export function dueByForecast({ nowMs }: Moment, unit: UnitFold): Due[] {
  const { estimate } = unit
  if (estimate?.forecast == null || unit.case !== null || unit.proof !== null) return []
  const { toleranceAtMs } = estimate.forecast
  return [
    {
      reason: 'forecast',
      work: 'verify',
      byMs: Math.max(nowMs, toleranceAtMs),
      urgency: 'routine',
      text: `tolerance of ${sayNtu(estimate.toleranceNtu)} NTU foreseen to be passed about ${sayDay(toleranceAtMs)}`,
      brief: `tolerance foreseen to be passed`,
    },
  ]
}

/** The date that habit sets, counted from the last work on record, or from the begin of the record where there is none. */
export function dueByHabit({ plant, startedMs }: Moment, point: Point, unit: UnitFold): Due[] {
  const { habitualDays } = point
  if (habitualDays === undefined) return []
  const last = unit.dates.visit
  const after = last === null ? `${sayDay(startedMs)}, since when none is on record` : sayDay(last.atMs)
  return [
    {
      reason: 'habit',
      work: 'visit',
      byMs: endOfDayAfter(plant.timeZone, last?.atMs ?? startedMs, habitualDays),
      urgency: 'routine',
      everyDays: habitualDays,
      text: `visit due by habit, ${String(habitualDays)} days after ${after}`,
      brief: `visit due by habit`,
    },
  ]
}
