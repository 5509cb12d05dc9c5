import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY_MS } from '../../src/model/time.js'
import {
  type Correction,
  correctionAt,
  correctionFromMs,
  correctionOfVisit,
  ratingOf,
  totalOf,
} from '../../src/recommend/correction.js'
import { sayFormula } from '../../src/recommend/correctionFormula.js'
import { beginVisit, joinVisit } from '../../src/recommend/visit.js'
import { analyzerOf, pointOf, START_MS, work } from '../model/plantFixture.js'

const ANALYZER = analyzerOf({ tolerance: { absoluteNtu: 0.05, relative: 0.1 } })
const GRAB = pointOf('CFE').grab
const day = (days: number) => START_MS + days * DAY_MS
const ZERO_WATER = { type: 'zero_water', assigned: 0 }
const STANDARD = { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 }

/** Cleaned on day 0 and calibrated on day −60; records of day 30, all at one instant. */
function correctionOf(records: readonly (readonly [string, Readonly<Record<string, unknown>>])[]): Correction {
  const works = records.map(([action, more]) => work(day(30), action, more))
  const visit = beginVisit(works[0]!, 'A-1', { filmMs: day(0), calibrationMs: day(-60) })
  for (const one of works) joinVisit(visit, one, ANALYZER, true)
  const correction = correctionOfVisit(visit, ANALYZER, GRAB, 0.09)
  if (correction === undefined) throw new Error('the visit supports no correction')
  return correction
}

const FILM = ['cleaned', { asFound: 0.12, asFoundClean: 0.09, besideBefore: 0.085, besideAfter: 0.087 }] as const
const ZERO = ['zero', { reference: ZERO_WATER, asFound: 0.013, asLeft: 0 }] as const

/** U.S. Geological Survey, Techniques and Methods 1-D3 (2006), formulas from memory; the numbers are this project's own. */
describe('the correction a visit supports', () => {
  it.each([
    [0, -0.0086667],
    [15, -0.0268333],
    [30, -0.045],
  ])('B13e: film since the cleaning and zero since the calibration, day %d', (at, expected) => {
    expect(correctionAt(correctionOf([FILM, ZERO]), 0.1, day(at)).ntu).toBeCloseTo(expected, 7)
  })

  it('B13d: both errors, their sum and the sum of their sizes', () => {
    const { errorNtu, sizeNtu } = totalOf(correctionOf([FILM, ZERO]))
    expect(errorNtu).toBeCloseTo(-0.045, 12)
    expect(sizeNtu).toBeCloseTo(0.045, 12)
  })

  it.each([
    [0.3, -0.000631],
    [10, 0.417403],
  ])('B13f: by the line through both references, at %d NTU', (readingNtu, expected) => {
    const both = correctionOf([
      ['verified', { reference: ZERO_WATER, asFound: 0.013 }],
      ['verified', { reference: STANDARD, asFound: 32.8 }],
    ])
    expect(correctionAt(both, readingNtu, day(30)).ntu).toBeCloseTo(expected, 6)
  })

  it('B12: rated by the parts of the tolerance in place of the limits for rivers', () => {
    expect(ratingOf(correctionOf([FILM, ZERO]), ANALYZER)).toBe('excellent')
    const film = (asFound: number) => correctionOf([['cleaned', { asFound, asFoundClean: 0.09 }]])
    expect(ratingOf(film(0.15), ANALYZER)).toBe('good')
    expect(ratingOf(film(0.2), ANALYZER)).toBe('fair')
    expect(ratingOf(film(0.3), ANALYZER)).toBe('poor')
  })

  it('reaches from the older of both begins to the visit, and corrects nothing outside', () => {
    const correction = correctionOf([FILM, ZERO])
    expect(correctionFromMs(correction)).toBe(day(-60))
    expect(correctionAt(correction, 0.1, day(-61)).ntu).toBe(0)
    expect(correctionAt(correction, 0.1, day(31)).ntu).toBe(0)
  })

  it('is sure where nothing has grown yet, and least sure half way and at the visit', () => {
    const correction = correctionOf([FILM])
    const u = (at: number) => correctionAt(correction, 0.1, day(at)).uNtu
    expect(u(0)).toBe(0)
    expect(u(15)).toBeGreaterThan(u(1))
    // Growth with the square of age would be half of the linear share at half the time.
    expect(u(15)).toBeGreaterThanOrEqual(0.032 / 4)
  })

  it('never passes its full size, whatever the time', () => {
    const correction = correctionOf([FILM])
    fc.assert(
      fc.property(fc.double({ min: -90, max: 90, noNaN: true }), at => {
        const { ntu } = correctionAt(correction, 0.1, day(at))
        expect(ntu).toBeLessThanOrEqual(0)
        expect(ntu).toBeGreaterThanOrEqual(-0.032 - 1e-12)
      }),
      { seed: 20_260_512, numRuns: 200 },
    )
  })

  it('nothing where no begin is known', () => {
    const cleaned = work(day(30), ...FILM)
    const visit = beginVisit(cleaned, null, { filmMs: null, calibrationMs: null })
    joinVisit(visit, cleaned, ANALYZER, true)
    expect(correctionOfVisit(visit, ANALYZER, GRAB, 0.09)).toBeUndefined()
  })

  it('says itself as a formula that gives the same number', () => {
    const text = sayFormula(correctionOf([FILM]))
    expect(text).toMatch(/^proposed = original − 0\.032 NTU × \(t − 2 Mar 2026, .* UTC\) \/ 30 d, t up to /)
    const both = sayFormula(
      correctionOf([
        ['verified', { reference: ZERO_WATER, asFound: 0.013 }],
        ['verified', { reference: STANDARD, asFound: 32.8 }],
      ]),
    )
    const [, at0, slope, from] = /\((-?[\d.]+) NTU \+ (-?[\d.]+) × \(original − ([\d.]+) NTU\)\)/.exec(both)!
    expect(Number(at0) + Number(slope) * (10 - Number(from))).toBeCloseTo(0.417403, 3)
  })
})
