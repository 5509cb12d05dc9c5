import { describe, expect, it } from 'vitest'
import { contradictionsOf } from '../../src/recommend/contradictions.js'
import { plantOf, START_MS, work } from '../model/plantFixture.js'

const PLANT = plantOf()
const STANDARD = { type: 'secondary_standard', id: 'D-1001', assigned: 34.2 }

function found(id: string, action: string, more: Readonly<Record<string, unknown>>) {
  return contradictionsOf(work(START_MS, action, { analyzer: id, ...more }), PLANT.analyzers.get(id)!, PLANT)
}

describe('contradictions of a work record', () => {
  it.each<[string, string, string, Readonly<Record<string, unknown>>]>([
    ['its own standard, well inside', 'CFE-A', 'span', { reference: STANDARD, asLeft: 34, accepted: true }],
    ['no reference at all', 'CFE-A', 'cleaned', {}],
    ['a reference without an id', 'CFE-A', 'zero', { reference: { type: 'zero_water', assigned: 0 }, asLeft: 0.02 }],
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
