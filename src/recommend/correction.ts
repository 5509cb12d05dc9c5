import {
  calibrationError,
  correctionBetween,
  prorate,
  rateRecord,
  type StandardReading,
  totalError,
  type VisitError,
} from '../compare/visitErrors.js'
import type { Analyzer, GrabPlan } from '../model/plant.js'
import type { Rating } from '../model/vocabulary.js'
import { filmErrorOf, isZeroReference, type ReferenceReading, standardReading, type Visit } from './visit.js'

/**
 * What the record before a visit should have been, as advice: each part grows from nothing to its full size at the
 * visit. Plain data; the record itself is never touched.
 */
export interface Correction {
  /** End of the time it is for. */
  readonly visitMs: number
  /** Readings before and after at the visit, or the grab samples before and after it. */
  readonly source: 'visit' | 'grabs'
  /** Serial of the instrument it is about; null where nobody stated it. */
  readonly serial: string | null
  /** Reading at the visit that the film was taken from: errors are told at this level. */
  readonly levelNtu: number
  readonly parts: readonly CorrectionPart[]
}

export interface CorrectionPart {
  readonly kind: 'film' | 'calibration' | 'bias'
  /** Last cleaning, last calibration or the estimated begin: nothing is corrected before it. */
  readonly fromMs: number
  /** A step was there at once; all else grows linearly, as published. */
  readonly shape: 'linear' | 'step'
  /** To be added at the visit, NTU; for a calibration what the line through its references gives at the level. */
  readonly errorNtu: number
  /** Standard uncertainty of it. */
  readonly uNtu: number
  /** References read at the visit; null for film and bias. */
  readonly low: StandardReading | null
  readonly high: StandardReading | null
}

/** Standard uncertainty of a reference whose record states none (common practice, no source). */
const ZERO_WATER_U_NTU = 0.01
const STANDARD_U_SHARE = 0.01
/** Of a resolution that rounds: half its width over √3. */
const ROUNDING = 1 / Math.sqrt(12)

/** The correction a visit itself supports; undefined where nothing was read before and after, or its begin is not known. */
export function correctionOfVisit(
  visit: Visit,
  analyzer: Analyzer,
  grab: GrabPlan,
  levelNtu: number,
): Correction | undefined {
  const level = visit.film?.before ?? levelNtu
  const parts = [...filmPart(visit, analyzer, grab), ...calibrationPart(visit, level)]
  if (parts.length === 0) return undefined
  return { visitMs: visit.toMs, source: 'visit', serial: visit.serial, levelNtu: level, parts }
}

function filmPart(visit: Visit, analyzer: Analyzer, grab: GrabPlan): CorrectionPart[] {
  const fromMs = visit.begin.filmMs
  const error = filmErrorOf(visit)
  if (error === undefined || visit.film === null || fromMs === null || fromMs >= visit.toMs) return []
  const { after, besideBefore, besideAfter } = visit.film
  const readingU = analyzer.resolutionNtu * ROUNDING
  // A second meter counts with what the register declares for the laboratory; without one the water may have moved.
  const besideU = grab.standardUncertaintyNtu + grab.relative * Math.max(0, after)
  const waterU = besideBefore !== null && besideAfter !== null ? besideU : grab.relative * Math.max(0, after)
  const uNtu = Math.sqrt(2 * (readingU * readingU + waterU * waterU))
  return [{ kind: 'film', fromMs, shape: 'linear', errorNtu: error.errorNtu, uNtu, low: null, high: null }]
}

function calibrationPart(visit: Visit, levelNtu: number): CorrectionPart[] {
  const { low, high } = visit
  const fromMs = visit.begin.calibrationMs
  if ((low === null && high === null) || fromMs === null || fromMs >= visit.toMs) return []
  const readings = { low: low && standardReading(low), high: high && standardReading(high) }
  return [
    {
      kind: 'calibration',
      fromMs,
      shape: 'linear',
      errorNtu: calibrationAt(readings, levelNtu),
      uNtu: calibrationU(low, high, levelNtu),
      ...readings,
    },
  ]
}

/** Where only a standard was read zero counts as right; where only zero water was read the span does. */
function calibrationAt(
  { low, high }: { readonly low: StandardReading | null; readonly high: StandardReading | null },
  readingNtu: number,
): number {
  if (high === null) return low === null ? 0 : calibrationError(low).errorNtu
  return correctionBetween(low ?? { assigned: 0, cleanedReading: 0 }, high, readingNtu) ?? 0
}

/** Uncertainties of both references along the line through them. */
function calibrationU(low: ReferenceReading | null, high: ReferenceReading | null, levelNtu: number): number {
  const lowU = low === null ? ZERO_WATER_U_NTU : referenceU(low)
  if (high === null) return lowU
  const share = Math.max(0, Math.min(1, levelNtu / high.foundNtu))
  const highU = share * referenceU(high)
  return Math.sqrt((1 - share) * (1 - share) * lowU * lowU + highU * highU)
}

function referenceU({ type, assignedNtu, uNtu }: ReferenceReading): number {
  return uNtu ?? (isZeroReference(type) ? ZERO_WATER_U_NTU : STANDARD_U_SHARE * assignedNtu)
}

export interface CorrectionAt {
  readonly ntu: number
  /** Standard uncertainty: that of the errors, and of growth that was not linear. */
  readonly uNtu: number
}

/** What to add to a reading at an instant up to the visit. */
export function correctionAt({ parts, visitMs }: Correction, readingNtu: number, atMs: number): CorrectionAt {
  let ntu = 0
  let variance = 0
  for (const part of parts) {
    if (atMs <= part.fromMs || atMs > visitMs) continue
    const full = part.kind === 'calibration' ? calibrationAt(part, readingNtu) : part.errorNtu
    const interval = { fromMs: part.fromMs, visitMs }
    const share = part.shape === 'step' ? 1 : prorate(1, interval, atMs)
    ntu += part.shape === 'step' ? full : prorate(full, interval, atMs)
    // Films mostly grow with the square of their age: as far off as that a linear share may be.
    const shape = part.shape === 'step' ? 0 : full * (share - share * share)
    variance += share * share * part.uNtu * part.uNtu + shape * shape
  }
  return { ntu, uNtu: Math.sqrt(variance) }
}

/** Begin of the time it is for. */
export function correctionFromMs({ parts }: Correction): number {
  return Math.min(...parts.map(part => part.fromMs))
}

/** Both errors at the visit: their sum corrects, the sum of their sizes rates. */
export function totalOf({ parts }: Correction): ReturnType<typeof totalError> {
  const of = (isCalibration: boolean): VisitError => ({
    errorNtu: parts.find(part => (part.kind === 'calibration') === isCalibration)?.errorNtu ?? 0,
    percent: undefined,
  })
  return totalError(of(false), of(true))
}

/**
 * How good the record is once corrected: the published scheme with the parts of the analyzer's tolerance in place of the
 * limits for rivers. Up to one tolerance (excellent) there is nothing worth correcting.
 */
export function ratingOf(correction: Correction, { tolerance }: Analyzer): Rating {
  return rateRecord(totalOf(correction).sizeNtu, correction.levelNtu, tolerance)
}
