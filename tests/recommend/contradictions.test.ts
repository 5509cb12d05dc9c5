import { describe, expect, it } from 'vitest'
import { contradictionsOf, NOTHING_KNOWN, type WorkStanding } from '../../src/recommend/contradictions.js'
import { procedureFor } from '../../src/recommend/procedure.js'
import { standardInForce, withStandardsInForce } from '../../src/recommend/standards.js'
import { plantOf, START_MS, work } from '../model/plantFixture.js'

const PLANT = plantOf()
const ZERO_WATER = { type: 'zero_water', assigned: 0 }
const STANDARD = { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 }

function found(id: string, action: string, more: Readonly<Record<string, unknown>>) {
  return contradictionsOf(work(START_MS, action, { analyzer: id, ...more }), PLANT.analyzers.get(id)!, PLANT)
}

describe('contradictions of a work record', () => {
  it.each<[string, string, string, Readonly<Record<string, unknown>>]>([
    ['its own standard, well inside', 'CFE-A', 'span', { reference: STANDARD, asLeft: 34, accepted: true }],
    ['no reference at all', 'CFE-A', 'cleaned', {}],
    ['a reference without an id', 'CFE-A', 'zero', { reference: ZERO_WATER, asLeft: 0.02 }],
    ['zero water by a name that no register holds', 'CFE-A', 'zero', { reference: { ...ZERO_WATER, id: 'ZW-7' } }],
    ['the dark by a name', 'CFE-A', 'verified', { reference: { type: 'source_off', id: 'DARK', assigned: 0 } }],
    ['outside, and so not accepted', 'CFE-A', 'span', { reference: STANDARD, asLeft: 30, accepted: false }],
    ['the serial of the register', 'FE3-B', 'cleaned', { serial: 'A-2207' }],
    ['a new instrument with a new serial', 'FE3-B', 'replaced', { serial: 'B-0001' }],
    ['a value assigned anew', 'CFE-A', 'standard_assigned', { reference: { ...STANDARD, assigned: 33.1 } }],
  ])('none: %s', (_, id, action, more) => {
    expect(found(id, action, more)).toEqual([])
  })

  it.each<[string, string, string, Readonly<Record<string, unknown>>, string, RegExp]>([
    [
      "another analyzer's standard",
      'CFE-B',
      'span',
      { reference: STANDARD },
      'standard',
      /D-1001 is assigned on CFE-A, CFE-B has D-1002: it proves nothing here/,
    ],
    [
      "another analyzer's standard where there is none of its own",
      'FE3-A',
      'span',
      { reference: STANDARD },
      'standard',
      /D-1001 is assigned on CFE-A: it proves nothing here/,
    ],
    [
      'a standard nobody registered',
      'CFE-A',
      'span',
      { reference: { ...STANDARD, id: 'D-9999' } },
      'standard',
      /D-9999 is not in the register/,
    ],
    [
      'an assigned value other than registered',
      'CFE-A',
      'verified',
      { reference: { ...STANDARD, assigned: 33.2 } },
      'standard',
      /33\.2 NTU for D-1001, the register 34\.2 NTU/,
    ],
    [
      'a standard out of date by the record',
      'CFE-A',
      'verified',
      { reference: { ...STANDARD, expires: '2026-03-01' } },
      'standard',
      /expired on 2026-03-01/,
    ],
    [
      'accepted though outside',
      'CFE-A',
      'span',
      { reference: STANDARD, asLeft: 30, accepted: true },
      'work_record',
      /as left 30 NTU is 12\.3 % from 34\.2 NTU, limit 5 %/,
    ],
    ['another serial', 'FE3-B', 'zero', { serial: 'A-9999' }, 'work_record', /A-9999.*A-2207/],
  ])('%s', (_, id, action, more, reference, text) => {
    const [first, ...rest] = found(id, action, more)
    expect(rest).toEqual([])
    expect(first?.reference).toBe(reference)
    expect(first?.text).toMatch(text)
    expect(first?.ask).not.toBe('')
  })

  it('a standard in date on its last day', () => {
    expect(found('CFE-A', 'verified', { reference: { ...STANDARD, expires: '2026-03-02' } })).toEqual([])
  })

  it('reports everything at once', () => {
    const all = found('CFE-B', 'span', {
      reference: { ...STANDARD, assigned: 30, expires: '2026-01-01' },
      asLeft: 20,
      accepted: true,
    })
    expect(all.map(one => one.reference)).toEqual(['standard', 'standard', 'standard', 'work_record'])
  })

  it('reads thousandths in the unit of the analyzer', () => {
    const plant = plantOf({
      plant: 'p',
      points: { P: { analyzers: { 'M-1': { unit: 'mNTU' } } } },
      standards: [{ id: 'D-1', type: 'secondary_standard', analyzer: 'M-1', assignedNtu: 34.2 }],
    })
    const record = work(START_MS, 'span', {
      analyzer: 'M-1',
      reference: { type: 'secondary_standard', id: 'D-1', assigned: 34_200 },
      asLeft: 34_100,
    })
    expect(contradictionsOf(record, plant.analyzers.get('M-1')!, plant)).toEqual([])
  })
})

describe('contradictions with what is known of the analyzer', () => {
  const CFE_A = PLANT.analyzers.get('CFE-A')!
  const standing = (more: Partial<WorkStanding>): WorkStanding => ({ ...NOTHING_KNOWN, ...more })
  const judged = (action: string, more: Readonly<Record<string, unknown>>, known: Partial<WorkStanding>) =>
    contradictionsOf(work(START_MS, action, { analyzer: 'CFE-A', ...more }), CFE_A, PLANT, standing(known))
  const spanned = { reference: STANDARD, asLeft: 34.2, accepted: true }

  it.each([
    [0.3, 'rose'],
    [-0.3, 'fell'],
  ])('accepted while the reading moves by %d NTU a minute', (slopeNtuPerMin, direction) => {
    const [found, ...rest] = judged('span', spanned, { slopeNtuPerMin })
    expect(rest).toEqual([])
    expect(found).toMatchObject({ reference: 'work_record', effect: 'not_done' })
    expect(found?.text).toBe(`accepted while the reading still ${direction} 0.3 NTU a minute, limit 0.17 NTU a minute`)
  })

  it('a steady reading is none, and an unsteady one that was not accepted neither', () => {
    expect(judged('span', spanned, { slopeNtuPerMin: 0.17 })).toEqual([])
    expect(judged('span', { ...spanned, accepted: false }, { slopeNtuPerMin: 3 })).toEqual([])
  })

  const lastGrab = { ntu: 0.062, atMs: START_MS - 3_600_000, sampleId: 'CFE-12' }
  it.each<[string, string, Readonly<Record<string, unknown>>, number]>([
    ['left at it without a reference', 'span', { asLeft: 0.062 }, 1],
    ['within the last digit', 'zero', { asLeft: 0.063 }, 1],
    ['the second meter read it', 'zero', { asLeft: 0.05, besideAfter: 0.062 }, 1],
    ['left at the second meter', 'span', { asLeft: 0.08, besideAfter: 0.08 }, 1],
    ['left elsewhere', 'span', { asLeft: 0.07 }, 0],
    ['on a reference', 'zero', { reference: { type: 'zero_water', assigned: 0.06 }, asLeft: 0.062 }, 0],
    ['nothing was set', 'cleaned', { asLeft: 0.062 }, 0],
  ])('adjusted to the last grab sample: %s', (_, action, more, n) => {
    expect(judged(action, more, { lastGrab }).filter(one => one.text.startsWith('no reference'))).toHaveLength(n)
  })

  it('a zero with the source off in clean water, which the rule keeps for turbid water', () => {
    const dark = { reference: { type: 'source_off', assigned: 0 }, asLeft: 0 }
    expect(judged('zero', dark, { levelNtu: 0.06 })[0]?.text).toMatch(/source off at 0\.06 NTU, where below 40 NTU/)
    expect(judged('zero', dark, { levelNtu: 60 })).toEqual([])
    expect(judged('verified', dark, { levelNtu: 0.06 })).toEqual([])
  })

  it('a zero left outside half the tolerance', () => {
    const zero = { reference: { type: 'zero_water', assigned: 0.01 }, accepted: true }
    expect(judged('zero', { ...zero, asLeft: 0.034 }, {})).toEqual([])
    expect(judged('zero', { ...zero, asLeft: 0.06 }, {})[0]).toMatchObject({ effect: 'not_done' })
  })

  it('the serial of the instrument that hangs there since an exchange', () => {
    expect(judged('cleaned', { serial: 'A-2299' }, { serial: 'A-2299' })).toEqual([])
    expect(judged('cleaned', { serial: 'A-2207' }, { serial: 'A-2299' })[0]?.text).toMatch(/A-2207.*A-2299/)
  })

  const outdated = { atMs: START_MS - 3 * 86_400_000, action: 'calibrated_primary' as const }
  const assignment = {
    id: 'D-1001',
    type: 'secondary_standard' as const,
    assignedNtu: 33.1,
    atMs: START_MS - 86_400_000,
    lot: null,
    expires: '2026-06-30',
  }

  it('a value from before a primary calibration, until it is assigned anew', () => {
    const old = judged('verified', { reference: STANDARD, asFound: 32.1 }, { standards: { assignments: [], outdated } })
    expect(old.map(one => one.effect)).toEqual(['no_proof'])
    expect(old[0]?.text).toMatch(/D-1001 \(34\.2 NTU\) dates from before the primary calibration.*32\.1 NTU as found/)
    const standards = { assignments: [assignment], outdated }
    const anew = { reference: { ...STANDARD, assigned: 33.1 }, asFound: 32.9 }
    expect(judged('verified', anew, { standards })).toEqual([])
    expect(judged('verified', { reference: STANDARD }, { standards })[0]?.text).toMatch(
      /says 34\.2 NTU for D-1001, the assignment of .* 33\.1 NTU/,
    )
  })

  it('a standard that work made known, and the date it was given', () => {
    const standards = { assignments: [{ ...assignment, id: 'D-9' }], outdated: null }
    const reference = { type: 'secondary_standard', id: 'D-9', assigned: 33.1 }
    expect(judged('verified', { reference }, { standards })).toEqual([])
    expect(judged('verified', { reference }, {})[0]?.text).toMatch(/D-9 is not in the register and was never assigned/)
    const past = { assignments: [{ ...assignment, id: 'D-9', expires: '2026-03-01' }], outdated: null }
    expect(judged('verified', { reference }, { standards: past })[0]?.text).toMatch(/D-9 \(33\.1 NTU\) expired/)
  })
})

describe('standards in force', () => {
  const assignment = (id: string, assignedNtu: number, atMs: number) => ({
    id,
    type: 'secondary_standard' as const,
    assignedNtu,
    atMs,
    lot: null,
    expires: null,
  })

  it('the procedure takes the value assigned last, the register stays as it is', () => {
    const known = {
      assignments: [assignment('D-1001', 33.3, START_MS), assignment('D-1001', 33.1, START_MS + 86_400_000)],
      outdated: null,
    }
    const inForce = withStandardsInForce(PLANT, 'CFE-A', known)
    const standard = (plant: typeof PLANT) =>
      procedureFor('span', plant.analyzers.get('CFE-A'), plant, 0.1).standard?.assignedNtu
    expect(standard(inForce)).toBe(33.1)
    expect(standard(PLANT)).toBe(34.2)
    expect(inForce.standards).toHaveLength(PLANT.standards.length)
  })

  it('a value of the register that is younger than the last assignment stands over it', () => {
    const register = {
      plant: 'p',
      points: { P: { analyzers: { 'M-1': { unit: 'NTU' } } } },
      standards: [
        { id: 'D-1', type: 'secondary_standard', analyzer: 'M-1', assignedNtu: 34.2, assignedOn: '2026-03-20' },
      ],
    }
    const known = { assignments: [assignment('D-1', 33, START_MS)], outdated: null }
    expect(standardInForce('D-1', 'M-1', plantOf(register), known)).toMatchObject({
      assignedNtu: 34.2,
      assignedBy: 'register',
    })
  })
})
