import { describe, expect, it } from 'vitest'
import { methodOf, toWholeUnit, UNITS } from '../../src/model/units.js'

describe('units', () => {
  it('1 mNTU is 0.001 NTU, 1 mFNU is 0.001 FNU; whole units stay', () => {
    expect(UNITS.map(unit => toWholeUnit(31, unit))).toEqual([31, 0.031, 31, 0.031, 31])
  })

  it('white light, near infrared and attenuation are three methods, whatever the scale (ISO 7027-1, EPA 180.1)', () => {
    expect(UNITS.map(methodOf)).toEqual(['NTU', 'NTU', 'FNU', 'FNU', 'FAU'])
  })
})
