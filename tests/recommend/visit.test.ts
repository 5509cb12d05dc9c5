import { describe, expect, it } from 'vitest'
import { visitSentences } from '../../src/recommend/visit.js'
import { analyzerOf, START_MS, work } from '../model/plantFixture.js'

const says = (more: Readonly<Record<string, unknown>>, unit = 'NTU') =>
  visitSentences(work(START_MS, 'verified', more), analyzerOf({ unit })).join('\n')

/** The numbers are cases B13a to B13c of tests/published/visit-errors.test.ts. */
describe('what a work record says of film and calibration', () => {
  it('the film, net of what the water did', () => {
    expect(says({ asFound: 0.12, asFoundClean: 0.09, besideBefore: 0.085, besideAfter: 0.087 })).toMatch(
      /-0\.032 NTU \(-26\.7 %\).*fouling error/,
    )
  })

  it('the calibration, from the cleaned reading', () => {
    const reference = { type: 'secondary_standard', assigned: 34.2 }
    expect(says({ reference, asFoundClean: 32.8 })).toMatch(/1\.4 NTU \(4\.3 %\).*calibration error/)
  })

  it('no percentage at zero water', () => {
    expect(says({ reference: { type: 'zero_water', assigned: 0 }, asFound: 0.013 })).toMatch(
      /read 0\.013 NTU too high(?! \()/,
    )
  })

  it('thousandths are told in whole units', () => {
    expect(says({ asFound: 120, asFoundClean: 90 }, 'mNTU')).toMatch(/-0\.03 NTU/)
  })

  it('nothing where it says nothing', () => {
    expect(says({})).toBe('')
    expect(says({ asFound: 0.12 })).toBe('')
  })
})
