import { describe, expect, it } from 'vitest'
import { pointContext } from '../../src/core/context.js'
import { restorePlant, serialisePlant } from '../../src/core/serialise.js'
import { samplingByRule } from '../../src/core/substituteSampling.js'
import type { RegisterFile } from '../../src/model/register.js'
import { DAY_MS, MINUTE_MS } from '../../src/model/time.js'
import { process } from './support/busyStream.js'
import { messagesOf, type Run, run } from './support/run.js'
import { smallRegister } from './support/register.js'
import { at, inOrder, makeStream, prompt, type Sent, work } from './support/stream.js'

const CRITERIA: NonNullable<RegisterFile['points'][string]['criteria']> = [
  'month_95_pct_to_0_3',
  'filter_twice_above_0_3',
  'filter_twice_above_0_5_after_4_h',
  'grabs_every_4_h_5_working_days',
]

function withCriteria(change: Partial<RegisterFile['points'][string]> = { criteria: CRITERIA }): RegisterFile {
  const register = smallRegister(['FE1'])
  return { ...register, points: { FE1: { ...register.points.FE1!, use: ['regulated'], ...change } } }
}

/** Over the end of April, with a backwash, a silence and a high stretch. */
const from = 27
const sent = makeStream({
  register: withCriteria(),
  seed: 12,
  days: from + 5,
  fromMs: at(from),
  error: (_, atMs) => (atMs > at(from + 1, 2) && atMs < at(from + 1, 3) ? 0.4 : 0),
  sends: (_, atMs) => !(atMs > at(from + 3, 10) && atMs < at(from + 3, 16)),
}).filter(one => one.atMs >= at(from))
const states = [
  prompt(at(from, 1), process('FE1', at(from, 1), 'in_service')),
  prompt(at(from + 2, 2), process('FE1', at(from + 2, 2), 'backwash')),
  prompt(at(from + 2, 2, 40), process('FE1', at(from + 2, 2, 40), 'in_service')),
]
const play = (extra: readonly Sent[], register = withCriteria()): Run =>
  run(messagesOf(inOrder([...sent, ...extra])), { register, ticks: 'event' })
const criteriaOf = ({ state }: Run): unknown => state.points.get('FE1')?.fold.criteria

describe('counters of published criteria', () => {
  const punctual = play(states)
  it('count the month in hand and keep the one before', () => {
    const counts = punctual.state.points.get('FE1')?.fold.criteria?.units[0]?.counts
    // 96 values a day; two days of May, of the zone UTC, less six silent hours.
    expect(counts?.month_95_pct_to_0_3?.n).toBeGreaterThan(150)
    expect(counts?.month_95_pct_to_0_3?.n).toBeLessThanOrEqual(2 * 96 - 23)
    expect(counts?.filter_twice_above_0_3?.before?.occasions).toBeGreaterThan(0)
    expect(counts?.filter_twice_above_0_5_after_4_h?.before?.n).toBe(1)
  })
  it('are the same where process states and grab samples come days late', () => {
    const late = states.map(one => ({ ...one, comesMs: one.comesMs + 2 * DAY_MS + 7 * MINUTE_MS }))
    expect(criteriaOf(play(late))).toEqual(criteriaOf(punctual))
    const lateGrabs = sent.map(one => (one.message.kind === 'grab' ? { ...one, comesMs: one.comesMs + DAY_MS } : one))
    const all = run(messagesOf(inOrder([...lateGrabs, ...states])), { register: withCriteria(), ticks: 'event' })
    expect(criteriaOf(all)).toEqual(criteriaOf(punctual))
  })
  it('go on over a restart', () => {
    const broken = run(messagesOf(inOrder([...sent, ...states])), {
      register: withCriteria(),
      ticks: 'event',
      between: (state, i) => (i % 500 === 0 ? restorePlant(serialisePlant(state)) : state),
    })
    expect(criteriaOf(broken)).toEqual(criteriaOf(punctual))
  })
  it('are kept nowhere else: a point without criteria has none, and says none', () => {
    const plain = play(states, withCriteria({}))
    expect(criteriaOf(plain)).toBeNull()
    expect(plain.events.some(event => 'criteria' in event.data)).toBe(false)
  })
})

describe('what to do while no unit counts', () => {
  const asked = (change: Partial<RegisterFile['points'][string]>) => {
    const { state } = run(messagesOf(sent.filter(one => one.atMs < at(from + 3, 14))), {
      register: withCriteria(change),
      ticks: 'event',
    })
    const plant = state.register!.plant
    const context = pointContext(plant, plant.points.get('FE1')!, [])
    return samplingByRule(context, state.points.get('FE1')!.fold, at(from + 3, 14))
  }
  it('is the published rule chosen in the register, with its source', () => {
    expect(asked({ criteria: ['grabs_every_4_h_14_days'] })?.ask).toBe(
      'sample by hand every 4 h, at most 14 days (40 CFR 141.561)',
    )
    expect(asked({ criteria: ['tx_grabs_every_4_h_14_working_days'] })?.ask).toMatch(
      /14 working days \(30 TAC 290\.111\)/,
    )
  })
  it('or the rule of the site in its own words, and nothing made up where neither is named', () => {
    expect(asked({ basis: 'site procedure 14' })?.ask).toBe('sample by hand as site procedure 14 says')
    expect(asked({})).toBeUndefined()
  })
})

describe('dates required by rule', () => {
  const dated = (...records: readonly Sent[]) => play(records).state.points.get('FE1')!.fold.units[0]!.dates
  const verified = (atMs: number, extra: Record<string, unknown> = {}, comesMs = atMs): Sent => ({
    ...prompt(atMs, work('FE1-A', atMs, 'verified', extra)),
    comesMs,
  })
  it('count from work before the record, handed in before it, with it or days later', () => {
    const longAgo = at(from) - 40 * DAY_MS
    expect(dated(verified(longAgo)).verification?.atMs).toBe(longAgo)
    expect(dated(verified(longAgo, {}, at(from + 3))).verification?.atMs).toBe(longAgo)
    const lately = at(from) - DAY_MS
    expect(dated(verified(lately)).verification?.atMs).toBe(lately)
    expect(dated(verified(lately, {}, at(from + 2))).verification?.atMs).toBe(lately)
  })
  it('count from the newest that was accepted, and keep why a newer one does not count', () => {
    const dates = dated(
      verified(at(from + 1), { id: 'w-1' }),
      verified(at(from + 2), { id: 'w-2', accepted: false }),
      verified(at(from) - 60 * DAY_MS, { id: 'w-0' }, at(from + 4)),
    )
    expect(dates.verification).toEqual({ atMs: at(from + 1), id: 'w-1' })
    expect(dates.notCounted).toEqual({ work: 'verification', atMs: at(from + 2), why: 'it was not accepted' })
  })
  it('begin anew with another instrument', () => {
    const replaced = prompt(at(from + 2), work('FE1-A', at(from + 2), 'replaced', { serial: 'B-9' }))
    expect(dated(verified(at(from + 1)), replaced).verification).toBeNull()
  })
})
