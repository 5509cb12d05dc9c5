import { calibrationError, foulingError, type StandardReading, type VisitError } from '../compare/visitErrors.js'
import type { StandardType, Work, WorkAction } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { HOUR_MS } from '../model/time.js'
import { toWholeUnit } from '../model/units.js'

/**
 * The records of one visit joined: as found before cleaning, as found clean, in references low and high. NTU, whole
 * unit of the analyzer. Plain data; it grows with each record.
 */
export interface Visit {
  readonly id: string | null
  readonly fromMs: number
  toMs: number
  /** Serial of the instrument that hung there; null where nobody stated it. */
  readonly serial: string | null
  /** Since when a film and a calibration error can have grown; null where nothing says it. */
  readonly begin: Beginnings
  actions: WorkAction[]
  /** Untouched reading of the water, and the second meter beside it, until a cleaning closes it into `film`. */
  dirty: { readonly ntu: number; readonly besideNtu: number | null } | null
  /** Time and both readings of a cleaning; the second meter's only with both. */
  film: {
    readonly atMs: number
    readonly before: number
    readonly after: number
    readonly besideBefore: number | null
    readonly besideAfter: number | null
  } | null
  cleanedMs: number | null
  /** First reading in zero water or with the source off, and in a standard, before either was adjusted. */
  low: ReferenceReading | null
  high: ReferenceReading | null
}

export interface Beginnings {
  readonly filmMs: number | null
  readonly calibrationMs: number | null
}

export interface ReferenceReading {
  readonly atMs: number
  readonly type: StandardType
  readonly id: string | null
  readonly assignedNtu: number
  readonly foundNtu: number
  readonly leftNtu: number | null
  /** Standard uncertainty of the reference where the record states it. */
  readonly uNtu: number | null
  /** Read after a cleaning of the visit, or with none in it. */
  readonly isClean: boolean
}

/** Records within this of each other are one visit, unless they name different ones. */
const VISIT_MS = 4 * HOUR_MS

export function belongsTo(visit: Visit, work: Work): boolean {
  if (work.visit !== undefined && visit.id !== null) return work.visit === visit.id
  return work.atMs - visit.toMs <= VISIT_MS && visit.fromMs - work.atMs <= VISIT_MS
}

export function beginVisit(work: Work, serial: string | null, begin: Beginnings): Visit {
  return {
    id: work.visit ?? null,
    fromMs: work.atMs,
    toMs: work.atMs,
    serial,
    begin,
    actions: [],
    dirty: null,
    film: null,
    cleanedMs: null,
    low: null,
    high: null,
  }
}

/**
 * Takes one more record into a visit.
 * @param hasReference whether the reference it names may be believed
 */
export function joinVisit(visit: Visit, work: Work, analyzer: Analyzer, hasReference: boolean): void {
  visit.toMs = Math.max(visit.toMs, work.atMs)
  visit.actions = [...visit.actions, work.action]
  if (work.reference === undefined) joinWater(visit, work, analyzer)
  else if (hasReference) joinReference(visit, work, analyzer)
  if (work.action === 'cleaned' || work.asFoundClean !== undefined) visit.cleanedMs ??= work.atMs
}

function joinWater(visit: Visit, work: Work, analyzer: Analyzer): void {
  const whole = (value: number | undefined): number | null =>
    value === undefined ? null : toWholeUnit(value, analyzer.unit)
  const found = whole(work.asFound)
  if (found !== null && visit.cleanedMs === null) visit.dirty ??= { ntu: found, besideNtu: whole(work.besideBefore) }
  const after = whole(work.asFoundClean ?? (work.action === 'cleaned' ? work.asLeft : undefined))
  if (visit.dirty === null || after === null) return
  visit.film ??= {
    atMs: work.atMs,
    before: visit.dirty.ntu,
    after,
    besideBefore: visit.dirty.besideNtu,
    besideAfter: whole(work.besideAfter),
  }
}

function joinReference(visit: Visit, work: Work, analyzer: Analyzer): void {
  const { reference, asFound, asFoundClean } = work
  if (reference === undefined) return
  const whole = (value: number): number => toWholeUnit(value, analyzer.unit)
  if (asFound !== undefined && asFoundClean !== undefined) {
    // In a standard the water beside has nothing to say.
    visit.film ??= {
      atMs: work.atMs,
      before: whole(asFound),
      after: whole(asFoundClean),
      besideBefore: null,
      besideAfter: null,
    }
  }
  const found = asFoundClean ?? asFound
  if (found === undefined || work.action === 'standard_assigned') return
  const isLow = isZeroReference(reference.type)
  const known = isLow ? visit.low : visit.high
  // The first reading counts; one on a cleaned window before any adjustment takes the place of one through the film.
  if (known !== null && (known.isClean || known.leftNtu !== null)) return
  const own: ReferenceReading = {
    atMs: work.atMs,
    type: reference.type,
    id: reference.id ?? null,
    assignedNtu: whole(reference.assigned),
    foundNtu: whole(found) + (isLow ? 0 : takenOutAtZero(visit)),
    leftNtu: work.asLeft === undefined || work.action === 'verified' ? null : whole(work.asLeft),
    uNtu: reference.standardUncertainty === undefined ? null : whole(reference.standardUncertainty),
    isClean: asFoundClean !== undefined || visit.cleanedMs !== null,
  }
  if (isLow) visit.low = own
  else visit.high = own
}

/** A standard read after zero was set lacks what was taken out there: as found means before either was touched. */
function takenOutAtZero({ low }: Visit): number {
  return low?.leftNtu == null ? 0 : low.foundNtu - low.leftNtu
}

/** Fouling error of a visit, by the published arithmetic; undefined where it was not read before and after. */
export function filmErrorOf({ film }: Visit): VisitError | undefined {
  if (film === null) return undefined
  return foulingError({
    before: film.before,
    after: film.after,
    besideBefore: film.besideBefore ?? undefined,
    besideAfter: film.besideAfter ?? undefined,
  })
}

export function standardReading({ assignedNtu, foundNtu }: ReferenceReading): StandardReading {
  return { assigned: assignedNtu, cleanedReading: foundNtu }
}

/** Calibration error in a reference, assigned minus cleaned reading. */
export function referenceErrorOf(reading: ReferenceReading): VisitError {
  return calibrationError(standardReading(reading))
}

export function isZeroReference(type: StandardType): boolean {
  return type === 'zero_water' || type === 'source_off'
}
