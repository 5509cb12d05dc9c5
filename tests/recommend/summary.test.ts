import { describe, expect, it } from 'vitest'
import { CAUSES, FINDINGS } from '../../src/model/vocabulary.js'
import type { RankedCause } from '../../src/recommend/case.js'
import {
  biasSentence,
  type BiasSentence,
  CAUSE_WORDS,
  FINDING_WORDS,
  laboratorySentence,
  sayShift,
  listWords,
  sayCauses,
  sayNtu,
  signalSentence,
  whichUnitSentence,
} from '../../src/recommend/summary.js'
import { DAY_MS } from '../../src/model/time.js'
import { estimate, NOW_MS } from './estimates.js'

const ZERO: readonly RankedCause[] = [{ cause: 'zero_drift', probability: 0.95 }]
const OPEN: readonly RankedCause[] = [
  { cause: 'undecided', probability: 0.4 },
  { cause: 'zero_drift', probability: 0.6 },
  { cause: 'fouling', probability: 0.4 },
]
const LONGEST = 240
/** What a bias may ask for. */
const OF_A_BIAS = [
  'verify',
  'clean_then_verify',
  'zero',
  'zero_and_span',
  'span',
  'inspect',
  'calibrate_primary',
] as const

function sentence(change: Partial<BiasSentence> = {}): string {
  return biasSentence({
    analyzer: 'FE3-B',
    estimate: estimate({ biasNtu: -0.04 }),
    causes: ZERO,
    action: 'zero',
    witnesses: ['6 grabs', 'FE3-A'],
    zeroMethod: 'zero_water',
    adjustedMs: 0,
    ...change,
  })
}

describe('the sentence of a bias', () => {
  it('says analyzer, size, unit, direction, tolerance, since when, witnesses, cause, action', () => {
    expect(sentence()).toBe(
      'FE3-B reads 0.04 NTU low at 0.06 NTU (tolerance 0.05) since about 9 May 2026; 6 grabs and FE3-A show it; ' +
        'probably zero drift: take a grab, then zero on zero water.',
    )
  })

  it('says when the tolerance will be reached or that it is passed', () => {
    const forecast = { toleranceAtMs: NOW_MS + 2 * DAY_MS, earliestMs: NOW_MS, latestMs: null }
    expect(sentence({ estimate: estimate({ biasNtu: 0.04, change: { forecast } }) })).toContain(
      'high at 0.06 NTU (tolerance 0.05, reached about 21 May 2026)',
    )
    expect(sentence({ estimate: estimate({ biasNtu: 0.09, change: { pOutside: 0.9, forecast } }) })).toContain(
      '(tolerance 0.05, passed)',
    )
  })

  it('says "before" where the begin is older than the record', () => {
    const onset = { estimateMs: NOW_MS, beforeRecord: true, earliestMs: null, latestMs: NOW_MS - 8 * DAY_MS }
    const old = estimate({ change: { onset } })
    expect(sentence({ estimate: old })).toContain('since before 11 May 2026')
    expect(sentence({ estimate: estimate({ change: { onset: null } }) })).not.toContain('since')
  })

  it.each(OF_A_BIAS)('fits %s in 240 characters, names unit, size and direction, and does not wrap a line', action => {
    for (const causes of [ZERO, OPEN]) {
      const forecast = { toleranceAtMs: NOW_MS + 2 * DAY_MS, earliestMs: NOW_MS, latestMs: null }
      const text = sentence({ action, causes, estimate: estimate({ biasNtu: -0.04, change: { forecast } }) })
      expect(text.length).toBeLessThanOrEqual(LONGEST)
      expect(text).toMatch(/^FE3-B reads [\d.]+ NTU low at [\d.]+ NTU \(tolerance [\d.]+/)
      expect(text).toMatch(/\.$/)
      expect(text).not.toMatch(/undefined|NaN|null|\n|_/)
    }
  })

  it('stays inside what an event may hold with the longest names', () => {
    const name = (letter: string) => letter.repeat(64)
    expect(
      sentence({ analyzer: name('A'), causes: OPEN, witnesses: ['12 grabs', name('B'), name('C')] }).length,
    ).toBeLessThan(400)
  })
})

describe('other sentences', () => {
  it('two units nobody can part', () => {
    const text = whichUnitSentence('FE3', ['FE3-A', 'FE3-B'], -0.06, 0.05)
    expect(text).toMatch(/^FE3-A and FE3-B at FE3 differ by 0\.06 NTU \(tolerance 0\.05\)/)
    expect(text).toMatch(/touch neither/)
    expect(text.length).toBeLessThanOrEqual(LONGEST)
  })

  it('the laboratory: an analyzer that reads low means a laboratory that reads high', () => {
    const text = laboratorySentence('LAB-1', { form: 'tolerances', size: -1.24 }, NOW_MS, ['CFE', 'FE1', 'FE3', 'SW'])
    expect(text).toContain('Laboratory instrument LAB-1 reads 1.2 tolerances high at 4 points since about 19 May 2026')
    expect(text).toContain('no analyzer is blamed')
    const low = laboratorySentence('all', { form: 'ntu', size: 0.04 }, NOW_MS, ['CFE'])
    expect(low).toMatch(/^Laboratory results read 0.04 NTU low/)
    expect(sayShift({ form: 'share', size: -0.123 })).toBe('12 % high')
    expect(text.length).toBeLessThanOrEqual(LONGEST)
  })

  it.each(['stuck', 'silent', 'no_flow', 'beyond_range', 'bad_quality'] as const)('a signal: %s', finding => {
    const text = signalSentence('FE2-A', finding, 'no readings come for 28.0 h, since 18 May 2026', 'check_signal')
    expect(text).toMatch(/^FE2-A: no readings come for 28\.0 h, since 18 May 2026; the readings are not usable: /)
    expect(text.length).toBeLessThanOrEqual(LONGEST)
  })

  it('bubbles do not make readings useless', () => {
    const text = signalSentence('FE5-A', 'bubbles', 'bubbles raise 21 % of the readings', 'check_sample_line')
    expect(text).toContain('the level is taken between them')
    expect(text).not.toContain('not usable')
  })
})

describe('words', () => {
  it('has words for every cause and every finding', () => {
    for (const cause of CAUSES) expect(CAUSE_WORDS[cause]).toMatch(/^[a-z]/)
    for (const finding of FINDINGS) expect(FINDING_WORDS[finding]).toBeDefined()
  })

  it.each([
    [0.0412, '0.041'],
    [-0.04, '-0.04'],
    [0.0996, '0.1'],
    [0.254, '0.25'],
    [3.456, '3.46'],
    [34.24, '34.2'],
    [123.4, '123'],
    [0, '0'],
  ])('%d NTU is %s', (value, text) => {
    expect(sayNtu(value)).toBe(text)
  })

  it('causes and lists', () => {
    expect(sayCauses(ZERO)).toBe('probably zero drift')
    expect(sayCauses(OPEN)).toBe('zero drift or a film on the window, not decided which')
    expect(sayCauses([])).toBe('cause not decided')
    expect([[], ['a'], ['a', 'b'], ['a', 'b', 'c']].map(listWords)).toEqual(['', 'a', 'a and b', 'a, b and c'])
  })
})
