import { describe, expect, it } from 'vitest'
import { decide, urgencyOf, zeroMethodFor } from '../../src/recommend/decide.js'
import type { DecisionContext } from '../../src/recommend/decisionContext.js'
import { carriesOpening } from '../../src/recommend/opening.js'
import { plantOf, pointOf } from '../model/plantFixture.js'
import { estimate, type Stated } from './estimates.js'

const PLANT = plantOf()

function decided(stated: Stated, change: Partial<DecisionContext> = {}) {
  return decide(estimate(stated), {
    signs: [],
    failed: [],
    zeroWaterSuspect: false,
    earlierSpans: [],
    needsPrimary: false,
    ...change,
  })
}

describe('from estimate to action', () => {
  it.each<[string, Stated, Partial<DecisionContext>, string]>([
    ['a zero error', { kinds: [0.95, 0.01, 0.04] }, {}, 'zero'],
    ['a zero error downwards, which is no film', { biasNtu: -0.04, kinds: [0.96, 0.02, 0.02] }, {}, 'zero'],
    ['a rise that may be a film', { kinds: [0.6, 0.01, 0.39] }, {}, 'clean_then_verify'],
    ['a film', { kinds: [0.2, 0.1, 0.7] }, {}, 'clean_then_verify'],
    ['a rise that cleaning did not move', { kinds: [0.6, 0.01, 0.39] }, { failed: ['cleaned'] }, 'zero'],
    ['a span error', { levelNtu: 8, toleranceNtu: 0.8, kinds: [0.03, 0.95, 0.02], spanRel: 0.12 }, {}, 'zero_and_span'],
    [
      'a span error after a zero that did not help',
      { levelNtu: 8, toleranceNtu: 0.8, kinds: [0.03, 0.95, 0.02], spanRel: 0.12 },
      { failed: ['zero'] },
      'span',
    ],
    ['zero or span, nobody can say', { levelNtu: 2, toleranceNtu: 0.2, kinds: [0.5, 0.48, 0.02] }, {}, 'verify'],
    [
      'a loss of gain with a light source that fails',
      { biasNtu: -3, levelNtu: 40, toleranceNtu: 4, kinds: [0.1, 0.6, 0.3], spanRel: -0.08 },
      { signs: [{ kind: 'light_source', lossPct: 12 }] },
      'inspect',
    ],
    ['zero water that was not zero', { kinds: [0.95, 0.01, 0.04] }, { zeroWaterSuspect: true }, 'zero'],
  ])('%s: %s', (_, stated, context, action) => {
    expect(decided(stated, context).action).toBe(action)
  })
})

describe('causes', () => {
  it('names the first where it is known, and "undecided" before what is open', () => {
    expect(decided({ kinds: [0.95, 0.01, 0.04] }).causes.map(one => one.cause)[0]).toBe('zero_drift')
    expect(decided({ kinds: [0.6, 0.3, 0.1] }).causes.map(one => one.cause)).toEqual([
      'undecided',
      'zero_drift',
      'span_drift',
      'fouling',
    ])
  })

  it('a failed cleaning takes the film out', () => {
    const { causes, because } = decided({ kinds: [0.5, 0.01, 0.49] }, { failed: ['cleaned'] })
    expect(causes.map(one => one.cause)).not.toContain('fouling')
    expect(because.join(' ')).toMatch(/cleaning did not move/)
  })

  it('a light source that fades explains a loss, not a gain', () => {
    const low = decided(
      { biasNtu: -0.8, levelNtu: 8, kinds: [0.4, 0.6, 0] },
      { signs: [{ kind: 'light_source', lossPct: 8 }] },
    )
    const high = decided(
      { biasNtu: 0.8, levelNtu: 8, kinds: [0.4, 0.6, 0] },
      { signs: [{ kind: 'light_source', lossPct: 8 }] },
    )
    expect(low.causes[0]?.cause).toBe('source_ageing')
    expect(high.causes.map(one => one.cause)).not.toContain('source_ageing')
  })

  it('blames the zero water where the last zero made a right analyzer wrong', () => {
    expect(decided({}, { zeroWaterSuspect: true }).causes[0]?.cause).toBe('zero_reference_bad')
  })

  it('probabilities are rounded and between 0 and 1', () => {
    for (const { probability } of decided({ kinds: [1 / 3, 1 / 3, 1 / 3] }).causes) {
      expect(probability).toBe(Math.round(probability * 1_000) / 1_000)
      expect(probability).toBeGreaterThan(0)
      expect(probability).toBeLessThanOrEqual(1)
    }
  })

  it('in clean water says how large a span error would have to be', () => {
    expect(decided({ biasNtu: 0.05, levelNtu: 0.11 }).because.join(' ')).toContain('83 %')
    expect(decided({ biasNtu: 0.4, levelNtu: 5, toleranceNtu: 0.5 }).because.join(' ')).not.toContain('hard to believe')
  })
})

describe('what carries an opening', () => {
  it.each([
    ['large and nobody else to blame', { pHalf: 0.95 }, true],
    ['small, but soon past tolerance', { pHalf: 0.4, pPassesIn7Days: 0.85 }, true],
    ['neither large nor soon', { pHalf: 0.69, pPassesIn7Days: 0.79 }, false],
    [
      'large, but perhaps the other unit',
      { who: { self: 0.8, all: 0, other: 0.15, laboratory: 0, nobody: 0.05 } },
      false,
    ],
    [
      'large, but perhaps the laboratory',
      { who: { self: 0.8, all: 0, other: 0, laboratory: 0.15, nobody: 0.05 } },
      false,
    ],
    ['all units together', { who: { self: 0.02, all: 0.95, other: 0.02, laboratory: 0.01, nobody: 0 } }, true],
  ])('%s: %s', (_, change, opens) => {
    expect(carriesOpening(estimate({ change }))).toBe(opens)
  })
})

describe('urgency', () => {
  const filter = pointOf('FE3', PLANT) // low is worse
  const settled = pointOf('SW', PLANT)
  it.each([
    ['wholly outside and low where low is worse', filter, { biasNtu: -0.08 }, 'now'],
    ['wholly outside and high', filter, { biasNtu: 0.08 }, 'routine'],
    ['wholly outside and low where it does not matter', settled, { biasNtu: -0.08 }, 'routine'],
    ['low, the interval not wholly outside', filter, { biasNtu: -0.055 }, 'routine'],
    ['past tolerance within the week', filter, { biasNtu: -0.03, change: { pPassesIn7Days: 0.6 } }, 'soon'],
    ['nothing of it', filter, { biasNtu: 0.03 }, 'routine'],
  ] as const)('%s', (_, point, stated, urgency) => {
    expect(urgencyOf(estimate(stated), point)).toBe(urgency)
  })
})

describe('zero method', () => {
  it('follows the split of the register', () => {
    const own = { ...PLANT, zeroWaterBelowNtu: 10 }
    expect([9.9, 10, 40].map(ntu => zeroMethodFor(own, ntu))).toEqual(['zero_water', 'source_off', 'source_off'])
  })
})
