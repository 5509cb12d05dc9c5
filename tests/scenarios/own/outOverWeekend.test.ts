import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** Friday 8 May 2026, 15:00 in London, to the Tuesday after. */
const OUT_FROM = '2026-05-08T14:00:00Z'
const OUT_TO = '2026-05-12T09:00:00Z'

/** Every four hours, but for the early hours of Sunday, when one is forgotten. */
const samples = Array.from({ length: 23 }, (_, k) => new Date(Date.parse(OUT_FROM) + (4 * k + 3) * 3_600_000))
  .map(date => date.toISOString())
  .filter(sampled => sampled < OUT_TO && !sampled.startsWith('2026-05-10T01'))

const said = runScenario({
  id: 'outOverWeekend',
  title: 'The only analyzer of a regulated point is out over a weekend',
  from: '2026-05-01',
  days: 13,
  points: {
    FE1: { water: 0.06, grabs: { at: ['08:20'], value: (ntu, { day }) => (day > 7 && day < 11 ? undefined : ntu) } },
  },
  analyzers: {
    'FE1-A': {
      arrives: (ntu, { atMs }) => (atMs > Date.parse(OUT_FROM) && atMs < Date.parse(OUT_TO) ? undefined : ntu),
    },
  },
  records: samples.map((sampled, k) => ({
    kind: 'grab',
    point: 'FE1',
    sampled,
    value: 0.06,
    unit: 'NTU',
    sampleId: `hand-${String(k)}`,
  })),
  register: register => {
    register.points.FE1 = { ...register.points.FE1!, use: ['regulated'], criteria: ['grabs_every_4_h_5_working_days'] }
  },
})

const rule = (until: string) => said.status('FE1-A', until).criteria?.[0]

describe('the only analyzer of a regulated point out over a weekend', () => {
  test('must say: one message at once, with the rule, its source and the hours used of those allowed', () => {
    const [began, ...others] = said.findings('no_usable_unit').filter(event => event.data.phase === 'began')
    expect(others).toEqual([])
    expect(began?.data.notify).toBe('at_once')
    expect(began?.data.summary).toMatch(/every 4 h, at most 5 working days \(40 CFR 141\.174\(b\)\)/)
    expect(began?.data.detail).toMatchObject({ source: '40 CFR 141.174(b)', hoursAllowed: 120, everyHours: 4 })
    expect(began?.data.detail.hoursUsed).toBeLessThan(1)
  })
  test('must say: a weekend uses none of the working days, by the zone of the plant, and holidays are not known', () => {
    const hoursUsed = (until: string) => Number(rule(until)?.values.hoursUsed)
    // Friday has nine hours left in London.
    expect(hoursUsed('2026-05-08T23:03:00Z')).toBeCloseTo(9, 1)
    expect(hoursUsed('2026-05-10T23:01:00Z')).toBeCloseTo(9, 1)
    expect(hoursUsed('2026-05-11T23:03:00Z')).toBeCloseTo(33, 1)
    expect(rule('2026-05-11T23:03:00Z')?.summary).toMatch(/Monday to Friday by Europe\/London; holidays are not known/)
    expect(rule('2026-05-11T23:03:00Z')?.values.until).toBe('2026-05-15T14:00:00Z')
  })
  test('must say: hours since the last sample, and that one was eight hours apart', () => {
    expect(rule('2026-05-09T20:30:00Z')).toMatchObject({ outcome: 'within' })
    const after = rule('2026-05-11T12:00:00Z')
    expect(after?.outcome).toBe('beyond')
    expect(after?.summary).toMatch(/longest 8 h/)
  })
  test('must say: it is over with the first value that counts', () => {
    expect(rule('9999')?.summary).toMatch(/a unit of FE1 counts/)
    expect(said.findings('no_usable_unit').at(-1)?.data.phase).toBe('ended')
  })
  holdsEverywhere(said)
})
