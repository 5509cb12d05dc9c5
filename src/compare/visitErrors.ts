/**
 * The arithmetic of a visit: what the film on the window made, what the calibration had drifted, and what the record
 * since the last visit should have been. U.S. Geological Survey, Techniques and Methods 1-D3 (Wagner, Boulger, Oblinger
 * and Smith 2006); the formulas are from memory, the report's own text was not at hand. Its thresholds are made for
 * rivers and are not used: a plant's tolerance comes from its register. All values in one unit, NTU.
 */
import { type Tolerance, toleranceAt } from '../model/tolerance.js'
import { type Rating, RATINGS } from '../model/vocabulary.js'

/** An error at a visit as the correction that takes it away: to be added to readings. */
export interface VisitError {
  readonly errorNtu: number
  /** Of the reading it was found at; undefined where a percentage has no meaning, at a zero reference or a reading of 0. */
  readonly percent: number | undefined
}

export interface CleaningReadings {
  /** The analyzer before and after it was cleaned. */
  readonly before: number
  readonly after: number
  /** A second meter in the same water at the same two times; what the water itself did. Counts only with both. */
  readonly besideBefore?: number | undefined
  readonly besideAfter?: number | undefined
}

/** Fouling error (after − before) − (besideAfter − besideBefore), and the same in per cent of the reading before. */
export function foulingError({ before, after, besideBefore, besideAfter }: CleaningReadings): VisitError {
  const waterNtu = besideBefore === undefined || besideAfter === undefined ? 0 : besideAfter - besideBefore
  const errorNtu = after - before - waterNtu
  return { errorNtu, percent: before > 0 ? (100 * errorNtu) / before : undefined }
}

/** A standard and what the cleaned analyzer read in it. */
export interface StandardReading {
  readonly assigned: number
  readonly cleanedReading: number
}

/** Calibration error: assigned value minus cleaned reading, and the same in per cent of the cleaned reading. */
export function calibrationError({ assigned, cleanedReading }: StandardReading): VisitError {
  const errorNtu = assigned - cleanedReading
  return { errorNtu, percent: assigned > 0 && cleanedReading > 0 ? (100 * errorNtu) / cleanedReading : undefined }
}

/** Both errors of a visit: their sum corrects, the sum of their sizes decides whether to correct. */
export function totalError(
  fouling: VisitError,
  calibration: VisitError,
): { readonly errorNtu: number; readonly sizeNtu: number } {
  return {
    errorNtu: fouling.errorNtu + calibration.errorNtu,
    sizeNtu: Math.abs(fouling.errorNtu) + Math.abs(calibration.errorNtu),
  }
}

/** From when an error grew, and the visit at which it was found. */
export interface ErrorInterval {
  /** Last cleaning for fouling, last calibration for calibration error. */
  readonly fromMs: number
  readonly visitMs: number
}

/** Part of an error that was there at an instant: linear from zero to full. Outside the interval nothing is corrected. */
export function prorate(errorNtu: number, { fromMs, visitMs }: ErrorInterval, atMs: number): number {
  if (atMs <= fromMs || atMs > visitMs) return 0
  return (errorNtu * (atMs - fromMs)) / (visitMs - fromMs)
}

/**
 * Correction at a reading between or beyond two standards: straight line through the calibration errors found in them.
 * @returns NTU to be added, or undefined where both standards were read alike
 */
export function correctionBetween(low: StandardReading, high: StandardReading, readingNtu: number): number | undefined {
  const apart = high.cleanedReading - low.cleanedReading
  if (apart === 0) return undefined
  const lowNtu = calibrationError(low).errorNtu
  const share = (readingNtu - low.cleanedReading) / apart
  return lowNtu + share * (calibrationError(high).errorNtu - lowNtu)
}

/**
 * Zero and span error from two standards, reading = zero + (1 + span) · truth.
 * @returns zero error in NTU and span error as a fraction, or undefined where both standards have one value
 */
export function zeroAndSpanError(
  low: StandardReading,
  high: StandardReading,
): { readonly zeroNtu: number; readonly spanRel: number } | undefined {
  const apart = high.assigned - low.assigned
  if (apart === 0) return undefined
  const slope = (high.cleanedReading - low.cleanedReading) / apart
  return { zeroNtu: low.cleanedReading - slope * low.assigned, spanRel: slope - 1 }
}

/**
 * Rating of a record by how much had to be corrected: up to once, twice, three times the limit, or beyond.
 * @param sizeNtu sum of the sizes of both errors  @param levelNtu reading they were found at
 * @param limit the larger of its parts at the level; the report's own for rivers is 0.5 units or 5 %
 */
export function rateRecord(sizeNtu: number, levelNtu: number, limit: Tolerance): Rating {
  const once = toleranceAt(limit, levelNtu)
  return RATINGS.find((_, i) => sizeNtu <= (i + 1) * once && i < RATINGS.length - 1) ?? 'poor'
}
