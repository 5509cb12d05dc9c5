import { describe, expect, it } from 'vitest'
import {
  calibrationError,
  correctionBetween,
  foulingError,
  prorate,
  rateRecord,
  totalError,
  zeroAndSpanError,
} from '../../src/compare/visitErrors.js'
import { DAY_MS } from '../../src/model/time.js'

/**
 * Formulas: U.S. Geological Survey, Techniques and Methods 1-D3 (2006), from memory. The worked numbers are this
 * project's own, recomputed by hand; the report's examples could not be read.
 */
const fouling = foulingError({ before: 0.12, after: 0.09, besideBefore: 0.085, besideAfter: 0.087 })
const span = { assigned: 34.2, cleanedReading: 32.8 }
const zero = { assigned: 0, cleanedReading: 0.013 }
/** B12: excellent up to 0.5 units or 5 %, whichever is more; twice and three times that for good and fair. */
const RIVER = { absoluteNtu: 0.5, relative: 0.05 }

describe('errors at a visit, USGS Techniques and Methods 1-D3 (from memory)', () => {
  it('B13a: takes what the water itself did from the change at cleaning', () => {
    expect(fouling.errorNtu).toBeCloseTo(-0.032, 12)
    expect(fouling.percent).toBeCloseTo(-26.6667, 4)
  })

  it('B13b: calibration error is what must be added to the cleaned reading', () => {
    const { errorNtu, percent } = calibrationError(span)
    expect(errorNtu).toBeCloseTo(1.4, 12)
    expect(percent).toBeCloseTo(4.26829, 5)
  })

  it('B13c: gives no percentage at zero water', () => {
    const { errorNtu, percent } = calibrationError(zero)
    expect(errorNtu).toBeCloseTo(-0.013, 12)
    expect(percent).toBeUndefined()
  })

  it('B13d: adds the corrections, and their sizes for the decision', () => {
    const { errorNtu, sizeNtu } = totalError(fouling, calibrationError(zero))
    expect(errorNtu).toBeCloseTo(-0.045, 12)
    expect(sizeNtu).toBeCloseTo(0.045, 12)
    expect([sizeNtu > 0.05, sizeNtu > 0.02]).toEqual([false, true])
  })

  it('B6: errors that cancel still count by their sizes', () => {
    const { errorNtu, sizeNtu } = totalError(
      { errorNtu: -0.03, percent: undefined },
      { errorNtu: 0.03, percent: undefined },
    )
    expect([errorNtu, sizeNtu]).toEqual([0, 0.06])
  })

  it.each([
    [0, -0.0086667],
    [15, -0.0268333],
    [30, -0.045],
  ])('B13e: prorates fouling from the cleaning and drift from the calibration, day %d', (day, expected) => {
    const at = (days: number) => days * DAY_MS
    const visitMs = at(30)
    const correction =
      prorate(fouling.errorNtu, { fromMs: at(0), visitMs }, at(day)) +
      prorate(calibrationError(zero).errorNtu, { fromMs: at(-60), visitMs }, at(day))
    expect(correction).toBeCloseTo(expected, 7)
  })

  it('B10: corrects nothing before the interval and nothing after the visit', () => {
    const interval = { fromMs: 10 * DAY_MS, visitMs: 20 * DAY_MS }
    expect([9, 10, 15, 20, 21].map(day => prorate(-0.04, interval, day * DAY_MS))).toEqual([0, 0, -0.02, -0.04, 0])
    expect(prorate(-0.04, { fromMs: 5, visitMs: 5 }, 5)).toBe(0)
  })

  it.each([
    [0.3, -0.000631],
    [10, 0.417403],
    [0.013, -0.013],
    [32.8, 1.4],
  ])('B13f: interpolates the correction between two standards, at %d NTU', (readingNtu, expected) => {
    expect(correctionBetween(zero, span, readingNtu)).toBeCloseTo(expected, 6)
  })

  it('B13g: rates a river record by the greater of the absolute and the relative limit', () => {
    expect(rateRecord(0.55, 8, RIVER)).toBe('good')
  })

  it.each([
    [0.5, 8, 'excellent'],
    [1, 8, 'good'],
    [1.01, 8, 'fair'],
    [1.5, 8, 'fair'],
    [1.51, 8, 'poor'],
    [0.6, 12, 'excellent'],
    [1.2, 12, 'good'],
    [1.21, 12, 'fair'],
    [1.81, 12, 'poor'],
  ] as const)('B12: errors of %d together at %d are %s', (sizeNtu, readingNtu, rating) => {
    expect(rateRecord(sizeNtu, readingNtu, RIVER)).toBe(rating)
  })

  it('B13h: two standards give zero and span error', () => {
    const errors = zeroAndSpanError(zero, span)
    expect(errors?.zeroNtu).toBeCloseTo(0.013, 12)
    expect(errors?.spanRel).toBeCloseTo(-0.0413158, 7)
  })

  it('B11, B13h: correction and zero-and-span are two readings of one line', () => {
    const errors = zeroAndSpanError(zero, span)!
    for (const readingNtu of [0.05, 1, 10, 32.8]) {
      const truth = (readingNtu - errors.zeroNtu) / (1 + errors.spanRel)
      expect(readingNtu + correctionBetween(zero, span, readingNtu)!).toBeCloseTo(truth, 9)
    }
  })

  it('answers nothing where two standards are one', () => {
    expect(zeroAndSpanError(span, span)).toBeUndefined()
    expect(correctionBetween(span, span, 1)).toBeUndefined()
  })
})

describe('foulingError without a second meter', () => {
  it.each([
    [{ before: 0.12, after: 0.09 }, -0.03],
    [{ before: 0.12, after: 0.09, besideBefore: 0.1 }, -0.03],
    [{ before: 0.12, after: 0.09, besideAfter: 0.1 }, -0.03],
  ])('%j takes the water as unchanged', (readings, expected) => {
    expect(foulingError(readings).errorNtu).toBeCloseTo(expected, 12)
  })

  it.each([0, -0.002])('gives no percentage of a reading of %d', before => {
    expect(foulingError({ before, after: 0.01 }).percent).toBeUndefined()
  })
})
