import { describe, expect, it } from 'vitest'
import { checkRegister } from '../../src/model/checkRegister.js'
import { ACTIONS, type Action } from '../../src/model/vocabulary.js'
import { contradictionsOf } from '../../src/recommend/contradictions.js'
import { decide } from '../../src/recommend/decide.js'
import { procedureFor } from '../../src/recommend/procedure.js'
import { advanceGate, newGateState } from '../../src/qualify/gate.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { plantOf, REGISTER, START_MS, work } from '../model/plantFixture.js'
import { logOf } from '../qualify/blocks.js'
import { estimate } from '../recommend/estimates.js'

/** Facts of the trade, G1 to G14 of the project's list of facts: common practice, no source. */
const PLANT = plantOf()
const CFE_A = PLANT.analyzers.get('CFE-A')!
const ADJUSTING = ['zero', 'zero_and_span', 'span', 'calibrate_primary'] as const
const AT_THE_ANALYZER = [...ADJUSTING, 'clean_then_verify', 'inspect', 'verify'] as const

const procedure = (action: Action, levelNtu = 0.1, analyzer = CFE_A) => procedureFor(action, analyzer, PLANT, levelNtu)
const textOf = (action: Action, levelNtu = 0.1) => {
  const { steps, cautions } = procedure(action, levelNtu)
  return [...steps, ...cautions].join('\n')
}
/** Position of the first step that matches. */
const stepOf = (action: Action, pattern: RegExp) => procedure(action).steps.findIndex(step => pattern.test(step))

describe('facts of the trade (common practice, no source)', () => {
  it.each([0, 0.02, 1, 39.9])('G1: at %d NTU zero is set on zero water with the source on', levelNtu => {
    for (const action of ['zero', 'zero_and_span', 'calibrate_primary', 'inspect'] as const)
      expect(procedure(action, levelNtu).zeroMethod).toBe('zero_water')
    expect(textOf('zero', levelNtu)).toMatch(/zero water, source on/)
    expect(textOf('zero', levelNtu)).not.toMatch(/source off/)
  })

  it.each([40, 40.1, 200])('G2: only from 40 NTU on, at %d, the dark response may do', levelNtu => {
    expect(procedure('zero', levelNtu).zeroMethod).toBe('source_off')
    expect(textOf('zero', levelNtu)).toMatch(/source off/)
  })

  it('G3: no method is cited for the split', () => {
    for (const action of ACTIONS)
      for (const levelNtu of [0.1, 100]) expect(textOf(action, levelNtu)).not.toMatch(/180\.1|7027|EPA|ISO/)
  })

  it('G4: a secondary standard outside 30 to 40 NTU is a warning, not an error', () => {
    const standards = [{ id: 'D-7', type: 'secondary_standard', analyzer: 'CFE-A', assignedNtu: 20 }]
    const checked = checkRegister({ ...REGISTER, standards })
    expect(checked).toMatchObject({ ok: true, warnings: [{ field: 'standards.0.assignedNtu' }] })
  })

  it("G5: the standard is the analyzer's own, and another's proves nothing", () => {
    expect(procedure('span').standard?.id).toBe('D-1001')
    expect(procedure('span', 0.1, PLANT.analyzers.get('CFE-C')).standard).toBeUndefined()
    expect(textOf('span')).toMatch(/no other analyzer’s standard will do/)
    const reference = { type: 'secondary_standard', id: 'D-1002', assigned: 36.1 }
    const [first] = contradictionsOf(work(START_MS, 'span', { analyzer: 'CFE-A', reference }), CFE_A, PLANT)
    expect(first?.text).toMatch(/D-1002 is assigned on CFE-B, CFE-A has D-1001: it proves nothing here/)
  })

  it('G6: zero comes before span, and span alone says why', () => {
    for (const action of ['zero_and_span', 'span'] as const) {
      expect(stepOf(action, /zero/i)).toBeGreaterThanOrEqual(0)
      expect(stepOf(action, /zero/i)).toBeLessThan(stepOf(action, /^Set span/))
    }
    expect(stepOf('calibrate_primary', /^Set zero/)).toBeLessThan(stepOf('calibrate_primary', /primary standard/))
    expect(textOf('span')).toMatch(/span alone is right only because zero was set lately/)
  })

  it.each(AT_THE_ANALYZER)('G7: %s waits for bubbles and keeps light out', action => {
    expect(stepOf(action, /bubbles/)).toBeGreaterThan(0)
    expect(textOf(action)).toMatch(/ambient light out/)
  })

  it.each(AT_THE_ANALYZER)('G8: %s accepts only a steady reading', action => {
    expect(textOf(action)).toMatch(/accept only a steady reading/)
  })

  it('G9, G10: nothing counts from maintenance on until the reading has settled', () => {
    const hours = 3_600_000
    const log = logOf(START_MS, START_MS + 6 * hours, () => 0.06)
    const works = [work(START_MS + hours, 'maintenance_on'), work(START_MS + 2 * hours, 'maintenance_off')]
    const state = newGateState()
    const closed: number[] = []
    for (let endMs = START_MS + BLOCK_MS; endMs <= START_MS + 6 * hours; endMs += BLOCK_MS) {
      const own = works.filter(one => one.atMs >= endMs - BLOCK_MS && one.atMs < endMs)
      if (advanceGate(state, own, endMs, log, CFE_A, 6 * hours) !== undefined) closed.push((endMs - START_MS) / hours)
    }
    expect(closed).toEqual([1.25, 1.5, 1.75, 2, 2.25, 2.5])
  })

  it.each(AT_THE_ANALYZER)(
    'G10: %s has maintenance on before anything, off at the end, before the proving grab',
    action => {
      expect(stepOf(action, /maintenance on/)).toBe(0)
      expect(stepOf(action, /maintenance off/)).toBe(procedure(action).steps.length - 2)
      expect(stepOf(action, /second grab/)).toBe(procedure(action).steps.length - 1)
    },
  )

  it.each(ADJUSTING)('G11: %s goes as found, clean, read again, adjust, as left', action => {
    const order = [/as found, untouched/, /^Clean.*read again/, /^(Set (zero|span)|Check zero)/, /as left/].map(
      pattern => stepOf(action, pattern),
    )
    expect(order.every(position => position >= 0)).toBe(true)
    expect([...order].sort((a, b) => a - b)).toEqual(order)
  })

  it('G11: a cleaning reads as found first and adjusts nothing', () => {
    expect(stepOf('clean_then_verify', /as found, untouched/)).toBeLessThan(stepOf('clean_then_verify', /^Clean/))
    expect(textOf('clean_then_verify')).toMatch(/do not adjust yet/)
    expect(textOf('verify')).toMatch(/do not adjust/)
  })

  it.each([...AT_THE_ANALYZER, 'check_signal', 'check_sample_line'] as const)(
    'G12: %s carries the cautions',
    action => {
      const cautions = procedure(action).cautions.join('\n')
      expect(cautions).toMatch(/relieve the pressure/)
      expect(cautions).toMatch(/[Cc]lose the inlet and outlet valves/)
      expect(cautions).toMatch(/optical faces/)
      expect(cautions).toMatch(/[Nn]ever adjust on flowing process water/)
      expect(cautions).toMatch(/[Ll]ocal codes, site procedures and licensed practice come first/)
      expect(cautions).toMatch(/control room/)
    },
  )

  it.each(['take_grab', 'check_laboratory'] as const)(
    'G12: %s defers to local codes and touches no analyzer',
    action => {
      expect(procedure(action).cautions.join('\n')).toMatch(/[Ll]ocal codes/)
      expect(procedure(action).steps.join('\n')).toMatch(/(not touch the analyzers|Leave the analyzers alone)/)
    },
  )

  it('G13: zero water has a floor of its own, and the default tolerance is not below it', () => {
    expect(textOf('zero')).toMatch(/0\.2 µm or finer/)
    expect(textOf('zero')).toMatch(/0\.01 to 0\.03 NTU/)
    expect(
      plantOf({ plant: 'p', points: { P: { analyzers: { A: { unit: 'NTU' } } } } }).analyzers.get('A')?.tolerance
        .absoluteNtu,
    ).toBeGreaterThanOrEqual(0.02)
  })

  it('G14: a loss of gain much larger than drift makes is looked at, not adjusted away', () => {
    const of = (spanRel: number, earlierSpans: readonly number[] = []) =>
      decide(estimate({ biasNtu: spanRel * 8, levelNtu: 8, toleranceNtu: 0.8, kinds: [0.03, 0.95, 0.02], spanRel }), {
        signs: [],
        failed: [],
        zeroWaterSuspect: false,
        earlierSpans,
        needsPrimary: false,
      }).action
    expect(of(-0.4)).toBe('inspect')
    expect(of(-0.06)).toBe('zero_and_span')
    // Beside what this analyzer has done before, either way.
    expect(of(0.14, [0.03, -0.02, 0.04])).toBe('inspect')
    expect(of(0.14, [0.06, 0.12])).toBe('zero_and_span')
    expect(of(0.04, [0.01])).toBe('zero_and_span')
  })

  it('a primary calibration assigns the secondary standard anew, right away', () => {
    expect(stepOf('calibrate_primary', /primary standard/)).toBeLessThan(
      stepOf('calibrate_primary', /Assign.*anew, right away/),
    )
  })

  it('every action has steps, cautions and nothing unfilled', () => {
    for (const action of ACTIONS) {
      expect(procedure(action).steps.length).toBeGreaterThan(1)
      expect(procedure(action).cautions.length).toBeGreaterThan(0)
      expect(textOf(action)).not.toMatch(/undefined|NaN|null/)
    }
    expect(procedureFor('zero', undefined, PLANT, 0.1).steps.length).toBeGreaterThan(0)
  })
})
