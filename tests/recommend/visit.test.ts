import { describe, expect, it } from 'vitest'
import { HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { beginVisit, belongsTo, joinVisit, type Visit } from '../../src/recommend/visit.js'
import { visitSentences } from '../../src/recommend/visitSentences.js'
import { analyzerOf, START_MS, work } from '../model/plantFixture.js'

type Entry = readonly [minute: number, action: string, more: Readonly<Record<string, unknown>>]

/** Joins records, each so many minutes after the first. */
function visitOf(records: readonly Entry[], { unit = 'NTU', believed = true } = {}): Visit {
  const analyzer = analyzerOf({ unit })
  const works = records.map(([minute, action, more]) => work(START_MS + minute * MINUTE_MS, action, more))
  const visit = beginVisit(works[0]!, null, { filmMs: null, calibrationMs: null })
  for (const one of works) joinVisit(visit, one, analyzer, believed)
  return visit
}

const says = (records: readonly Entry[], unit = 'NTU') => visitSentences(visitOf(records, { unit })).join('\n')
const one = (more: Readonly<Record<string, unknown>>): Entry[] => [[0, 'verified', more]]
const ZERO_WATER = { type: 'zero_water', assigned: 0 }
const STANDARD = { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 }

/** The numbers are cases B13a to B13c of tests/published/visit-errors.test.ts. */
describe('what one record says of film and calibration', () => {
  it('the film, net of what the water did', () => {
    expect(says(one({ asFound: 0.12, asFoundClean: 0.09, besideBefore: 0.085, besideAfter: 0.087 }))).toMatch(
      /-0\.032 NTU \(-26\.7 %\).*fouling error/,
    )
  })

  it('the calibration, from the cleaned reading', () => {
    expect(says(one({ reference: STANDARD, asFoundClean: 32.8 }))).toMatch(/1\.4 NTU \(4\.3 %\).*calibration error/)
  })

  it('no percentage at zero water', () => {
    expect(says(one({ reference: ZERO_WATER, asFound: 0.013 }))).toMatch(/read 0\.013 NTU too high(?! \()/)
  })

  it('zero water by its own value', () => {
    expect(says(one({ reference: { type: 'zero_water', assigned: 0.02 }, asFound: 0.013 }))).toMatch(
      /0\.007 NTU \(53\.8 %\) too low/,
    )
  })

  it('thousandths are told in whole units', () => {
    expect(says(one({ asFound: 120, asFoundClean: 90 }), 'mNTU')).toMatch(/-0\.03 NTU/)
  })

  it('nothing where it says nothing', () => {
    expect(says(one({}))).toBe('')
    expect(says(one({ asFound: 0.12 }))).toBe('')
  })

  it('nothing of a reference that is not believed', () => {
    const visit = visitOf(one({ reference: STANDARD, asFound: 30 }), { believed: false })
    expect(visitSentences(visit)).toEqual([])
  })
})

describe('records of one visit', () => {
  it('are joined: untouched, cleaned, zero water, standard', () => {
    const text = says([
      [0, 'verified', { asFound: 0.2, besideBefore: 0.085 }],
      [20, 'cleaned', { asLeft: 0.073, besideAfter: 0.087 }],
      [40, 'zero', { reference: ZERO_WATER, asFound: 0.013, asLeft: 0 }],
      [60, 'verified', { reference: STANDARD, asFound: 32.787 }],
    ])
    expect(text).toMatch(/-0\.13 NTU \(-64\.5 %\): fouling error/)
    expect(text).toMatch(/0\.013 NTU too high on zero water/)
    // B13h, after what zero took out is put back: a = 0.013, b = -0.0413158.
    expect(text).toMatch(/both references together: zero 0\.013 NTU, span -4\.1 %/)
  })

  it('a reading through the film gives way to one on the cleaned window', () => {
    const visit = visitOf([
      [0, 'verified', { reference: STANDARD, asFound: 30 }],
      [20, 'cleaned', {}],
      [40, 'verified', { reference: STANDARD, asFound: 33 }],
      [60, 'verified', { reference: STANDARD, asFound: 33.5 }],
    ])
    expect(visit.high).toMatchObject({ foundNtu: 33, isClean: true })
  })

  it('as found is what stood there before the first adjustment', () => {
    const visit = visitOf([
      [0, 'span', { reference: STANDARD, asFound: 32, asLeft: 36.9 }],
      [30, 'span', { reference: STANDARD, asFound: 36.9, asLeft: 34.2 }],
    ])
    expect(visit.high).toMatchObject({ foundNtu: 32, leftNtu: 36.9 })
    expect(visit.actions).toEqual(['span', 'span'])
  })

  it('says where two errors hid each other', () => {
    const text = says([
      [0, 'cleaned', { asFound: 0.9, asFoundClean: 0.76 }],
      [30, 'zero', { reference: ZERO_WATER, asFound: -0.16, asLeft: 0 }],
    ])
    expect(text).toMatch(/two errors cancelled each other: 0\.14 NTU of film and 0\.16 NTU of zero/)
  })

  it.each([
    ['four hours', {}, {}, 4 * HOUR_MS, true],
    ['later', {}, {}, 4 * HOUR_MS + MINUTE_MS, false],
    ['a day later under one name', { visit: 'V-1' }, { visit: 'V-1' }, 24 * HOUR_MS, true],
    ['at once under another name', { visit: 'V-1' }, { visit: 'V-2' }, MINUTE_MS, false],
    ['an hour later without a name', { visit: 'V-1' }, {}, HOUR_MS, true],
  ])('belong together: %s', (_, first, second, afterMs, together) => {
    const visit = beginVisit(work(START_MS, 'cleaned', first), null, { filmMs: null, calibrationMs: null })
    expect(belongsTo(visit, work(START_MS + afterMs, 'zero', second))).toBe(together)
  })
})
