import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  acceptedDifference,
  countBlock,
  isWithin,
  newMonthCount,
  nextMonth,
  shareWithin,
  substitutionUse,
  takeSubstitute,
} from '../../src/compare/publishedCriteria.js'
import { type BlockRule, type Criterion, CRITERIA, publishedRule } from '../../src/model/publishedRules.js'
import { reported } from '../../src/model/reportingStep.js'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { toleranceAt } from '../../src/model/tolerance.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'

const START_MS = Date.UTC(2026, 4, 1)

function counted(criterion: Criterion, values: readonly (number | null)[], inServiceMs: number | null = null) {
  const count = newMonthCount(START_MS)
  const rule = publishedRule(criterion) as BlockRule
  values.forEach((ntu, i) => {
    // As blocks keep it.
    countBlock(count, rule, ntu === null ? null : Math.fround(ntu), START_MS + (i + 1) * BLOCK_MS, inServiceMs)
  })
  return { count, rule, within: isWithin(count, rule) }
}

const quarterHours = (low: number, high: number): number[] => [
  ...Array.from({ length: low }, () => 0.2),
  ...Array.from({ length: high }, () => 0.35),
]

describe('40 CFR 141.173(a) and 141.551: 95 % of the month at most 0.3 NTU, never above 1 NTU', () => {
  it('92 of 96 values are within, 91 are not (shares worked out by hand)', () => {
    const good = counted('month_95_pct_to_0_3', quarterHours(92, 4))
    expect(100 * shareWithin(good.count)).toBeCloseTo(95.83, 2)
    expect(good.within).toBe(true)
    const bad = counted('month_95_pct_to_0_3', quarterHours(91, 5))
    expect(100 * shareWithin(bad.count)).toBeCloseTo(94.79, 2)
    expect(bad.within).toBe(false)
  })
  it('exactly 0.3 NTU is at most 0.3 NTU, though single precision keeps it as 0.300000012', () => {
    expect(counted('month_95_pct_to_0_3', [0.3, 0.3, 0.3]).count.above).toBe(0)
  })
  it('one value above 1 NTU is beyond, whatever the share', () => {
    expect(counted('month_95_pct_to_0_3', [...quarterHours(96, 0), 1.01]).within).toBe(false)
    expect(counted('month_95_pct_to_0_3', [...quarterHours(96, 0), 1]).within).toBe(true)
  })
  it('says nothing where nothing counted', () => {
    expect(counted('month_95_pct_to_0_3', [null, null]).within).toBeUndefined()
  })
})

describe('40 CFR 141.175(b)(1): above 1.0 NTU in two values in a row, 15 minutes apart', () => {
  it('1.1, 0.9, 1.1, 1.1 is one occasion, at the fourth', () => {
    const { count } = counted('filter_twice_above_1', [1.1, 0.9, 1.1, 1.1])
    expect(count.occasions).toBe(1)
    expect(count.lastMs).toBe(START_MS + 4 * BLOCK_MS)
  })
  it('exactly 1.0 is none: it exceeds nothing', () => {
    expect(counted('filter_twice_above_1', [1, 1, 1]).count.occasions).toBe(0)
  })
  it('a stretch is one occasion however long, and a value that is missing ends it', () => {
    expect(counted('filter_twice_above_1', [1.2, 1.2, 1.2, 1.2]).count.occasions).toBe(1)
    expect(counted('filter_twice_above_1', [1.2, null, 1.2]).count.occasions).toBe(0)
  })
  it('never counts more occasions than pairs of values above (property)', () => {
    fc.assert(
      fc.property(fc.array(fc.constantFrom(0.5, 1, 1.1, null), { maxLength: 60 }), values => {
        const { count } = counted('filter_twice_above_1', values)
        const pairs = values.filter((ntu, i) => (ntu ?? 0) > 1 && (values[i - 1] ?? 0) > 1).length
        expect(count.occasions).toBeLessThanOrEqual(pairs)
        expect(count.occasions > 0).toBe(pairs > 0)
      }),
      { seed: 20260501 },
    )
  })
})

// From memory: 40 CFR 141.175(b)(2) to (4).
describe('40 CFR 141.175(b)(2): above 0.5 NTU twice in a row at the end of the first 4 h after a start', () => {
  const values = (fourth: number, next: number): number[] => [...Array.from({ length: 15 }, () => 2), fourth, next, 2]
  it('looks at the value at 4 h and the next one, and at no other', () => {
    expect(counted('filter_twice_above_0_5_after_4_h', values(0.6, 0.6), START_MS).count).toMatchObject({
      n: 1,
      occasions: 1,
      lastMs: START_MS + 17 * BLOCK_MS,
    })
    expect(counted('filter_twice_above_0_5_after_4_h', values(0.6, 0.5), START_MS).count.occasions).toBe(0)
    expect(counted('filter_twice_above_0_5_after_4_h', values(0.4, 0.6), START_MS).count.occasions).toBe(0)
  })
  it('says nothing where no start is known', () => {
    expect(counted('filter_twice_above_0_5_after_4_h', values(0.6, 0.6)).within).toBeUndefined()
  })
})

describe('40 CFR 141.175(b)(3): above 1.0 NTU twice in a row in each of three months in a row', () => {
  it('takes three months', () => {
    const rule = publishedRule('filter_twice_above_1_three_months') as BlockRule
    let count = newMonthCount(START_MS)
    const within = [0, 1, 2].map(month => {
      if (month > 0) count = nextMonth(count, START_MS + month * 31 * DAY_MS)
      for (const ntu of [1.2, 1.2, 0.2]) countBlock(count, rule, ntu, START_MS + month * 31 * DAY_MS, null)
      return isWithin(count, rule)
    })
    expect(within).toEqual([true, true, false])
    const calm = nextMonth(nextMonth(count, 0), 0)
    expect(calm.monthsBefore).toBe(0)
  })
})

describe('40 CFR 141.174(b) and 141.561: a grab sample every 4 h while the instrument is out', () => {
  const out = (sinceMs: number) => ({ sinceMs, lastGrabMs: null, grabs: 0, longestGapMs: 0 })
  const rule = (criterion: Criterion) => {
    const found = publishedRule(criterion)
    if (found.kind !== 'substitute_grabs') throw new Error(criterion)
    return found
  }
  it('allows five working days, a weekend between them does not count', () => {
    // Friday 8 May 2026, 15:00 in London.
    const sinceMs = Date.UTC(2026, 4, 8, 14)
    const monday = substitutionUse(
      rule('grabs_every_4_h_5_working_days'),
      out(sinceMs),
      'Europe/London',
      Date.UTC(2026, 4, 11, 8),
    )
    expect(monday.usedMs / HOUR_MS).toBe(18)
    expect(monday.allowedMs / HOUR_MS).toBe(120)
    expect(new Date(monday.untilMs).toISOString()).toBe('2026-05-15T14:00:00.000Z')
  })
  it('allows small systems 14 days, every day counted', () => {
    const sinceMs = Date.UTC(2026, 4, 8, 14)
    const use = substitutionUse(rule('grabs_every_4_h_14_days'), out(sinceMs), 'Europe/London', sinceMs + 3 * DAY_MS)
    expect([use.usedMs / DAY_MS, use.allowedMs / DAY_MS, (use.untilMs - sinceMs) / DAY_MS]).toEqual([3, 14, 14])
  })
  it('counts the hours since the last sample and the longest gap', () => {
    const substitution = out(START_MS)
    for (const hours of [3.5, 9, 9]) takeSubstitute(substitution, START_MS + hours * HOUR_MS)
    expect(substitution).toMatchObject({ grabs: 2, longestGapMs: 5.5 * HOUR_MS })
    const use = substitutionUse(rule('grabs_every_4_h_14_days'), substitution, 'UTC', START_MS + 11 * HOUR_MS)
    expect([use.sinceSampleMs / HOUR_MS, use.allowedGapMs / HOUR_MS]).toEqual([2, 4])
  })
})

// From memory: EPA guidance on turbidity provisions, 1999.
describe('on-line against bench, and verification', () => {
  it.each([
    [0.02, 0.05],
    [0.3, 0.05],
    [0.5, 0.05],
    [0.51, 0.051],
    [1, 0.1],
    [34.2, 3.42],
    [100, 10],
  ])('at %d NTU accepts %d NTU', (levelNtu, acceptedNtu) => {
    const rule = publishedRule('bench_within_10_pct_or_0_05')
    if (rule.kind !== 'bench') throw new Error('no bench rule')
    expect(Math.abs(acceptedDifference(rule, levelNtu) - acceptedNtu)).toBeLessThan(1e-12)
    expect(toleranceAt({ absoluteNtu: 0.05, relative: 0.1 }, levelNtu)).toBe(acceptedDifference(rule, levelNtu))
  })
  it('verification: 10 % of the assigned value', () => {
    const rule = publishedRule('verification_within_10_pct')
    if (rule.kind !== 'verification') throw new Error('no verification rule')
    expect(acceptedDifference(rule, 34.2)).toBeCloseTo(3.42, 12)
  })
})

// First row read in a summary of Health Canada's guideline, the others from memory: EPA method 180.1 (1993), section 12.
describe('EPA method 180.1, section 12: steps of reporting', () => {
  it.each([
    [0.07, 0.05],
    [0.08, 0.1],
    [0.974, 0.95],
    [3.46, 3.5],
    [23.4, 23],
    [57, 55],
    [58, 60],
    [233, 230],
    [620, 600],
    [1_240, 1_200],
  ])('%d NTU is reported as %d', (ntu, step) => expect(reported(ntu)).toBe(step))
})

describe('the table of published rules', () => {
  it('gives a source to each, and says where a value is from memory', () => {
    for (const criterion of CRITERIA) {
      const { source, mark } = publishedRule(criterion)
      expect(source).toMatch(/^(40 CFR 141\.|30 TAC 290\.|EPA 815-R-99-010)/)
      expect(['verified', 'from_memory']).toContain(mark)
    }
  })
})
