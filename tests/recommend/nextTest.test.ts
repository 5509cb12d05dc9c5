import { describe, expect, it } from 'vitest'
import { ACTIONS, CAUSES } from '../../src/model/vocabulary.js'
import { type NamedCause, nextTest } from '../../src/recommend/nextTest.js'
import { CAUSE_WORDS } from '../../src/recommend/summary.js'

const NAMED = CAUSES.filter((cause): cause is NamedCause => cause !== 'undecided')
const PAIRS = NAMED.flatMap((one, i) => NAMED.slice(i + 1).map(other => [one, other] as const))
const between = (one: NamedCause, other: NamedCause) => nextTest(one, other, cause => CAUSE_WORDS[cause])

describe('the cheapest step that parts two causes', () => {
  it('is known for every two', () => {
    expect(PAIRS).toHaveLength((NAMED.length * (NAMED.length - 1)) / 2)
    expect(PAIRS.filter(([one, other]) => between(one, other) === undefined)).toEqual([])
  })

  it('is the same whichever is named first, and shows two different things', () => {
    for (const [one, other] of PAIRS) {
      const test = between(one, other)
      expect(between(other, one)?.action).toBe(test?.action)
      expect(ACTIONS).toContain(test?.action)
      const shown = [...(test?.text.matchAll(/\(([^)]+)\)/g) ?? [])].map(([, what]) => what)
      expect(shown).toHaveLength(2)
      expect(shown[0]).not.toBe(shown[1])
    }
  })

  it('parts no cause from itself', () => {
    for (const cause of NAMED) expect(between(cause, cause)).toBeUndefined()
  })

  // Common practice, no source.
  it.each<[NamedCause, NamedCause, string, RegExp]>([
    ['zero_drift', 'span_drift', 'verify', /^a zero check and the secondary standard tell zero drift/],
    ['zero_drift', 'fouling', 'clean_then_verify', /^cleaning and reading again tells/],
    ['span_drift', 'signal_path', 'check_signal', /^the local display and its range beside the recorded value tell/],
    ['zero_drift', 'grab_bad', 'take_grab', /^a repeated grab sample tells/],
    ['zero_drift', 'other_unit', 'take_grab', /agrees with this unit and not with the other/],
    ['zero_drift', 'laboratory_bias', 'check_laboratory', /on a standard/],
    ['fouling', 'condensation', 'inspect', /fog or drops/],
    ['span_drift', 'source_ageing', 'inspect', /light source has lost its level/],
    ['zero_drift', 'stray_light', 'inspect', /falls under the cover/],
    ['zero_drift', 'sample_line', 'check_sample_line', /line or flow/],
    ['zero_drift', 'zero_reference_bad', 'verify', /read on another analyzer/],
    ['span_drift', 'standard_bad', 'verify', /by the standard in use/],
  ])('%s from %s: %s', (one, other, action, text) => {
    expect(between(one, other)?.action).toBe(action)
    expect(between(one, other)?.text).toMatch(text)
  })
})
