import { describe, expect, it } from 'vitest'
import { ACTIONS } from '../../src/model/vocabulary.js'
import { procedureFor } from '../../src/recommend/procedure.js'
import { plantOf, REGISTER } from '../model/plantFixture.js'

const PLANT = plantOf({
  ...REGISTER,
  standards: [
    {
      id: 'D-1001',
      type: 'secondary_standard',
      analyzer: 'CFE-A',
      assignedNtu: 34.2,
      expires: '2027-01-31',
      lot: 'L-7',
    },
    { id: 'D-1002', type: 'secondary_standard', analyzer: 'CFE-B', assignedNtu: 36.1 },
    { id: 'Z-3', type: 'zero_water', assignedNtu: 0.02, lot: 'W-11', expires: '2026-12-01' },
    { id: 'F-9', type: 'primary_standard', assignedNtu: 20, lot: 'F-2', expires: '2026-12-02' },
  ],
})
const of = (action: (typeof ACTIONS)[number], analyzer = 'CFE-A') =>
  procedureFor(action, PLANT.analyzers.get(analyzer), PLANT, 0.1)

/** What must be said with every request for work; common practice, no source. */
const CAUTIONS = [
  /control room/,
  /out of control, alarm and reporting use by site procedure/,
  /valves and relieve the pressure before opening the flow cell/,
  /not look into the light source/,
  /formazin and other standards by their safety data sheet/,
  /as found before anything is touched/,
  /Never adjust .* to a grab sample or to a neighbouring analyzer/,
  /Local codes, site procedures and licensed practice come first/,
]

/** Steps in the order in which they may come; a procedure holds some of them and never another order. */
const ORDER = [
  /^Tell the control room.*hold outputs by site procedure/,
  /^Take a grab sample .* time to the minute/,
  /^Read as found, untouched/,
  /^Clean .*read again/,
  /^Adjust only what reads outside its limit/,
  /^Set zero/,
  /^Set span|^Calibrate on a primary standard/,
  /write down as left/,
  /^Assign the secondary standard anew/,
  /close the cover against light.*bubbles are out.*steady/,
  /^Return to service/,
  /^Take a second grab/,
]
const AT_THE_CELL = ACTIONS.filter(action => !action.startsWith('check_') && action !== 'take_grab')

describe('procedures', () => {
  it.each(ACTIONS)('%s carries every caution', action => {
    for (const analyzer of ['CFE-A', 'nobody']) {
      const cautions = of(action, analyzer).cautions.join('\n')
      for (const caution of CAUTIONS) expect(cautions).toMatch(caution)
    }
  })

  it.each(ACTIONS)('%s keeps to the order', action => {
    const { steps } = of(action)
    const places = steps.flatMap(step => {
      const place = ORDER.findIndex(pattern => pattern.test(step))
      return place === -1 ? [] : [place]
    })
    expect(places).toEqual([...places].sort((a, b) => a - b))
    expect(new Set(places).size).toBe(places.length)
  })

  it.each(AT_THE_CELL)('%s begins and ends whole', action => {
    const { steps } = of(action)
    for (const place of [0, 1, 2]) expect(steps[place]).toMatch(ORDER[place]!)
    for (const place of [1, 2, 3]) expect(steps.at(-place)).toMatch(ORDER.at(-place)!)
    expect(steps.findIndex(step => step.includes('write down as left'))).toBeGreaterThan(2)
  })

  it('a primary calibration assigns the secondary standard anew after as left, before the process water', () => {
    const { steps } = of('calibrate_primary')
    const place = (pattern: RegExp): number => steps.findIndex(step => pattern.test(step))
    expect(place(/^Assign the secondary/)).toBeGreaterThan(place(/write down as left/))
    expect(place(/^Assign the secondary/)).toBeLessThan(place(/close the cover against light/))
  })

  it('names each reference with lot and expiry, and sends to the label for what nobody stated', () => {
    expect(of('zero_and_span').steps.join('\n')).toMatch(
      /zero water, source on: Z-3 \(0\.02 NTU, lot W-11, expires 2026-12-01\)/,
    )
    expect(of('zero_and_span').steps.join('\n')).toMatch(/span on D-1001 \(34\.2 NTU, lot L-7, expires 2027-01-31\)/)
    expect(of('calibrate_primary').steps.join('\n')).toMatch(/F-9 \(20 NTU, lot F-2, expires 2026-12-02\)/)
    expect(of('span', 'CFE-B').steps.join('\n')).toMatch(
      /D-1002 \(36\.1 NTU, lot: see its label, expiry: see its label\)/,
    )
  })

  it('says what to bring, never the standard of another analyzer', () => {
    expect(of('zero_and_span').bring?.map(one => one.id)).toEqual(['Z-3', 'D-1001'])
    expect(of('calibrate_primary').bring?.map(one => one.id)).toEqual(['Z-3', 'F-9', 'D-1001'])
    expect(of('span', 'CFE-C').bring?.map(one => one.id)).toEqual(['Z-3'])
    expect(of('check_signal').bring).toBeUndefined()
  })
})
