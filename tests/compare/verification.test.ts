import { describe, expect, it } from 'vitest'
import {
  foundOutside,
  foundOfTolerance,
  foundUOfTolerance,
  type ReferenceKnown,
  verificationOf,
} from '../../src/compare/verification.js'
import { DAY_MS } from '../../src/model/time.js'
import { analyzerOf, START_MS, work } from '../model/plantFixture.js'

const ANALYZER = analyzerOf({ asLeftLimit: 0.1 })
const STANDARD = { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 }
const KNOWN: ReferenceKnown = { assignedMs: START_MS - 30 * DAY_MS, standardUncertaintyNtu: undefined, limitNtu: 3.42 }

function record(told: Record<string, unknown>) {
  return work(START_MS, 'verified', told)
}

function verified(told: Record<string, unknown>, known: Partial<ReferenceKnown> = {}, analyzer = ANALYZER) {
  return verificationOf(record(told), analyzer, { ...KNOWN, ...known }, undefined)
}

describe('an as found on a reference', () => {
  it('is the reading after cleaning where that was made as well', () => {
    expect(verified({ reference: STANDARD, asFound: 36, asFoundClean: 34.4 })).toMatchObject({
      foundNtu: 34.4,
      isClean: true,
    })
    expect(verified({ reference: STANDARD, asFound: 36 })).toMatchObject({ foundNtu: 36, isClean: false })
  })

  it('is none without a reading, without a reference, or where the value is being assigned', () => {
    expect(verified({ reference: STANDARD })).toBeUndefined()
    expect(verified({ asFound: 36 })).toBeUndefined()
    expect(
      verificationOf(
        work(START_MS, 'standard_assigned', { reference: STANDARD, asFound: 34 }),
        ANALYZER,
        KNOWN,
        undefined,
      ),
    ).toBeUndefined()
  })

  it('is taken in the whole unit of the analyzer', () => {
    const milli = analyzerOf({ unit: 'mNTU' })
    const one = verified({ reference: { ...STANDARD, assigned: 34_200 }, asFound: 34_400 }, {}, milli)
    expect(one).toMatchObject({ assignedNtu: 34.2, foundNtu: 34.4 })
  })

  it('has the uncertainty stated with it, else of the register, else one per cent; never that of the reading alone', () => {
    const stated = verified(
      { reference: { ...STANDARD, standardUncertainty: 0.2 }, asFound: 34 },
      { standardUncertaintyNtu: 0.3 },
    )
    expect(stated?.referenceUNtu).toBe(0.2)
    expect(verified({ reference: STANDARD, asFound: 34 }, { standardUncertaintyNtu: 0.3 })?.referenceUNtu).toBe(0.3)
    const usual = verified({ reference: STANDARD, asFound: 34 })!
    expect(usual.referenceUNtu).toBeCloseTo(0.342, 9)
    expect(foundUOfTolerance(usual)).toBeCloseTo(Math.hypot(0.342, 0.342) / 3.42, 5)
    expect(foundOfTolerance(usual)).toBeCloseTo(-0.2 / 3.42, 5)
    expect(verified({ reference: { ...STANDARD, standardUncertainty: 0 }, asFound: 34 })!.uNtu).toBeGreaterThan(0)
  })

  it('on zero water is known to no better than 0.02 NTU: the water itself reads that much (common practice, no source)', () => {
    const zero = { type: 'zero_water', assigned: 0, standardUncertainty: 0.001 }
    expect(verified({ reference: zero, asFound: 0.02 })?.uNtu).toBeGreaterThanOrEqual(0.02)
    expect(verified({ reference: { type: 'zero_water', assigned: 0 }, asFound: 0.02 })).toMatchObject({
      anchoredMs: null,
      use: 'used',
    })
  })

  it('on a secondary standard tells of the change since its assignment, and nothing where nobody knows of one', () => {
    expect(verified({ reference: STANDARD, asFound: 34 })).toMatchObject({ anchoredMs: KNOWN.assignedMs, use: 'used' })
    expect(verified({ reference: STANDARD, asFound: 34 }, { assignedMs: undefined })).toMatchObject({
      use: 'standard_unassigned',
    })
    // A day in the register has no hour: the end of the day of the check itself is no later assignment.
    expect(verified({ reference: STANDARD, asFound: 34 }, { assignedMs: START_MS + DAY_MS / 2 })).toMatchObject({
      anchoredMs: START_MS,
      use: 'used',
    })
    expect(verified({ reference: STANDARD, asFound: 34 }, { assignedMs: START_MS + 2 * DAY_MS })?.use).toBe(
      'standard_unassigned',
    )
  })

  it('of a contradicted reference is kept with the reason and is no evidence', () => {
    const one = verificationOf(record({ reference: STANDARD, asFound: 20 }), ANALYZER, KNOWN, 'reference_contradicted')!
    expect(one.use).toBe('reference_contradicted')
    expect(foundOutside([one], 0)).toBeUndefined()
  })
})

describe('outside its limit', () => {
  const at = (foundNtu: number, day = 0, told: object = {}) => ({
    ...verified({ reference: STANDARD, asFound: foundNtu })!,
    atMs: START_MS + day * DAY_MS,
    ...told,
  })

  // EPA 815-R-99-010: a verification is good within 10 % of the assigned value (from memory).
  it.each([
    [34.2, false],
    [37.6, false],
    [37.63, true],
    [30.79, false],
    [30.77, true],
  ])('34.2 NTU found as %d NTU with a limit of 10 %% is outside: %s', (foundNtu, outside) => {
    expect(foundOutside([at(foundNtu)], 0) !== undefined).toBe(outside)
  })

  it('counts the newest on each kind of reference, since the last adjustment', () => {
    expect(foundOutside([at(40), at(34.2, 1)], 0)).toBeUndefined()
    expect(foundOutside([at(34.2), at(40, 1)], 0)?.foundNtu).toBe(40)
    expect(foundOutside([at(40), at(0, 1, { type: 'zero_water', assignedNtu: 0, limitNtu: 0.025 })], 0)?.foundNtu).toBe(
      40,
    )
    expect(foundOutside([at(40)], START_MS)).toBeUndefined()
  })
})
