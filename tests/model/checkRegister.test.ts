import { describe, expect, it } from 'vitest'
import { checkRegister } from '../../src/model/checkRegister.js'
import { REGISTER } from './plantFixture.js'

const A = { unit: 'NTU' }
const point = (analyzers: unknown, more: object = {}) => ({ plant: 'p', points: { FE1: { analyzers, ...more } } })

function faultsOf(register: unknown): string[] {
  const checked = checkRegister(register)
  return checked.ok ? [] : checked.faults.map(fault => fault.field)
}

describe('checkRegister', () => {
  it('takes a good register without a warning', () => {
    expect(checkRegister(REGISTER)).toMatchObject({ ok: true, warnings: [] })
  })

  it('takes published criteria by name, each once, and one rule for grab samples in place of readings', () => {
    const criteria = (...names: string[]) => faultsOf(point({ A }, { criteria: names }))
    expect(criteria('filter_twice_above_1', 'grabs_every_4_h_14_days')).toEqual([])
    expect(criteria('filter_twice_above_1', 'filter_twice_above_1')).toEqual(['points.FE1.criteria.1'])
    expect(criteria('grabs_every_4_h_14_days', 'grabs_every_4_h_5_working_days')).toEqual(['points.FE1.criteria.1'])
    expect(criteria('filter_thrice_above_1')).toEqual(['points.FE1.criteria.0'])
  })

  it('warns of two units on one sample line', () => {
    const line = (sampleLine: string) => ({ ...A, sampleLine })
    const checked = checkRegister(point({ A: line('L1'), B: line('L2'), C: line('L1') }))
    expect(checked).toMatchObject({
      ok: true,
      warnings: [
        {
          field: 'points.FE1.analyzers.C.sampleLine',
          value: '"L1"',
          rule: expect.stringMatching(/^is the line of A too/),
        },
      ],
    })
  })

  it.each([null, undefined, 7, 'plant: p', [], {}])('never throws at %j', value => {
    expect(checkRegister(value).ok).toBe(false)
  })

  it('reports every mistake of the schema at once, each with path, value and rule', () => {
    const checked = checkRegister({
      plant: '7p',
      timeZone: 'Hollin/Weir',
      falseAlarmBudgets: {},
      shifts: ['6:00'],
      points: { FE1: { analyzers: { 'FE1-A': { unit: 'ntu', interval: 60 } } } },
    })
    expect(checked.ok).toBe(false)
    if (checked.ok) return
    expect(new Map(checked.faults.map(fault => [fault.field, fault.value]))).toEqual(
      new Map([
        ['falseAlarmBudgets', '{}'],
        ['plant', '"7p"'],
        ['points.FE1.analyzers.FE1-A.interval', '60'],
        ['points.FE1.analyzers.FE1-A.unit', '"ntu"'],
        ['shifts.0', '"6:00"'],
        ['timeZone', '"Hollin/Weir"'],
      ]),
    )
    for (const { path, field, rule } of checked.faults) {
      expect(path.join('.')).toBe(field)
      expect(rule.length).toBeGreaterThan(10)
    }
  })

  it.each<[string, unknown, string[]]>([
    ['a class nobody defined', point({ A }, { class: 'filter' }), ['points.FE1.class']],
    ['a class that every object has', point({ A }, { class: 'toString' }), ['points.FE1.class']],
    ['no analyzer', point({}), ['points.FE1.analyzers']],
    ['no point', { plant: 'p', points: {} }, ['points']],
    [
      'one analyzer at two points',
      { plant: 'p', points: { FE1: { analyzers: { A } }, FE2: { analyzers: { A } } } },
      ['points.FE2.analyzers.A'],
    ],
    [
      'units of different methods at one point',
      point({ A, B: { unit: 'mNTU' }, C: { unit: 'FNU' }, D: { unit: 'FAU' } }),
      ['points.FE1.analyzers.C.unit', 'points.FE1.analyzers.D.unit'],
    ],
    ['a range upside down', point({ A: { ...A, rangeNtu: [10, 0] } }), ['points.FE1.analyzers.A.rangeNtu']],
    ['a range of nothing', point({ A: { ...A, rangeNtu: [5, 5] } }), ['points.FE1.analyzers.A.rangeNtu']],
    [
      'a deadband without on_change',
      point({ A: { ...A, deadbandNtu: 0.01 } }),
      ['points.FE1.analyzers.A.transmission'],
    ],
    [
      'a heartbeat with periodic',
      point({ A: { ...A, heartbeatS: 600, transmission: 'periodic' } }),
      ['points.FE1.analyzers.A.transmission'],
    ],
    [
      'related points nobody knows',
      { ...point({ A }), related: [{ downstream: 'CFE', upstream: ['FE1', 'FE2'] }] },
      ['related.0.downstream', 'related.0.upstream'],
    ],
    [
      'a standard twice',
      {
        ...point({ A }),
        standards: [
          { id: 'Z', type: 'zero_water', assignedNtu: 0.02 },
          { id: 'Z', type: 'zero_water', assignedNtu: 0.02 },
        ],
      },
      ['standards.1.id'],
    ],
    [
      'a standard of an unknown analyzer',
      { ...point({ A }), standards: [{ id: 'D', type: 'secondary_standard', analyzer: 'B', assignedNtu: 34 }] },
      ['standards.0.analyzer'],
    ],
    [
      'a secondary standard bound to no analyzer',
      { ...point({ A }), standards: [{ id: 'D', type: 'secondary_standard', assignedNtu: 34 }] },
      ['standards.0.analyzer'],
    ],
    [
      'a feed twice',
      {
        ...point({ A }),
        feeds: [
          { name: 'a', type: 'mqtt', topic: 'x' },
          { name: 'a', type: 'mqtt', topic: 'y' },
        ],
      },
      ['feeds.1.name'],
    ],
    [
      'a point upstream of itself',
      { ...point({ A }), related: [{ downstream: 'FE1', upstream: ['FE1'] }] },
      ['related.0.upstream'],
    ],
    [
      'usual values upside down',
      { ...point({ A }), secondaryStandardUsualNtu: [40, 30] },
      ['secondaryStandardUsualNtu'],
    ],
    ['a point named __proto__', JSON.parse('{"plant":"p","points":{"__proto__":{}}}'), ['points.__proto__']],
    ['delta1 at delta0', { ...point({ A }), detection: { delta0: 0.4, delta1: 0.4 } }, ['detection.delta1']],
    ['delta1 under the default delta0', { ...point({ A }), detection: { delta1: 0.2 } }, ['detection.delta1']],
  ])('refuses %s', (_, register, fields) => {
    expect(faultsOf(register)).toEqual(fields)
  })

  it('reports every mistake between fields at once', () => {
    expect(
      faultsOf({
        plant: 'p',
        points: { FE1: { class: 'x', analyzers: { A: { ...A, rangeNtu: [9, 1] } } }, FE2: { analyzers: { A } } },
        related: [{ downstream: 'FE9', upstream: ['FE1'] }],
        standards: [{ id: 'D', type: 'secondary_standard', assignedNtu: 34 }],
        detection: { delta0: 0.9 },
      }),
    ).toEqual([
      'points.FE1.class',
      'points.FE1.analyzers.A.rangeNtu',
      'points.FE2.analyzers.A',
      'related.0.downstream',
      'standards.0.analyzer',
      'detection.delta1',
    ])
  })

  it.each([
    [29.9, 1],
    [30, 0],
    [40, 0],
    [40.1, 1],
  ])('a secondary standard of %d NTU gives %d warning and no fault', (assignedNtu, count) => {
    const checked = checkRegister({
      ...point({ A }),
      standards: [{ id: 'D', type: 'secondary_standard', analyzer: 'A', assignedNtu }],
    })
    expect(checked.ok && checked.warnings.length).toBe(count)
  })
})
