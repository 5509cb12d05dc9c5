import type { Work, WorkAction } from '../model/messages.js'
import type { Contradiction } from '../recommend/contradiction.js'

/** The last accepted work of a kind, which dates required by rule count from. Plain data. */
export interface DatedWork {
  readonly atMs: number
  readonly id: string | null
}

/** What dates required by rule count from at one unit, and the newest record that does not count, with the reason. */
export interface WorkDates {
  verification: DatedWork | null
  calibration: DatedWork | null
  /** Last work of any kind but the begin and end of maintenance: what habit counts from. */
  visit: DatedWork | null
  notCounted: { readonly work: 'verification' | 'calibration'; readonly atMs: number; readonly why: string } | null
}

export function newWorkDates(): WorkDates {
  return { verification: null, calibration: null, visit: null, notCounted: null }
}

/** A calibration is one on a primary standard; zero and span on a secondary one are adjustments between. */
const DATED: Partial<Record<WorkAction, 'verification' | 'calibration'>> = {
  verified: 'verification',
  calibrated_primary: 'calibration',
}

/** Takes a record, in any order of time. Another instrument under the tag begins without any. */
export function noteDatedWork(dates: WorkDates, work: Work, contradictions: readonly Contradiction[]): void {
  if (work.action === 'maintenance_on' || work.action === 'maintenance_off') return
  const entry: DatedWork = { atMs: work.atMs, id: work.id ?? null }
  dates.visit = newer(dates.visit, entry)
  if (work.action === 'replaced') {
    if (isOlder(dates.verification, work.atMs)) dates.verification = null
    if (isOlder(dates.calibration, work.atMs)) dates.calibration = null
    return
  }
  const kind = DATED[work.action]
  if (kind === undefined) return
  const why = work.accepted === false ? 'it was not accepted' : contradictions[0]?.text
  if (why === undefined) dates[kind] = newer(dates[kind], entry)
  else if (dates.notCounted === null || dates.notCounted.atMs <= work.atMs)
    dates.notCounted = { work: kind, atMs: work.atMs, why }
}

function newer(known: DatedWork | null, entry: DatedWork): DatedWork {
  return known !== null && known.atMs > entry.atMs ? known : entry
}

function isOlder(known: DatedWork | null, atMs: number): boolean {
  return known !== null && known.atMs <= atMs
}
