import { describe, expect, it } from 'vitest'
import { createPlantState, step } from '../../src/core/step.js'
import { registerMessage } from '../../src/core/registerInput.js'
import type { PlantEvent } from '../../src/model/events.js'
import { formatInstant } from '../../src/model/time.js'
import { BUSY_REGISTER, busyStream, closing, respond } from './support/busyStream.js'
import { lineOf, messagesOf, ofType, type Run, run, unlike, withTicks } from './support/run.js'
import { at, grab, inOrder, prompt, reading, type Sent, work } from './support/stream.js'

const DAYS = 4
const clean = [...busyStream(51, DAYS), ...closing(BUSY_REGISTER, at(DAYS))]

/** What a plant sends on a bad day: none of it may move anything, all of it must be counted with its reason. */
describe.each(['event', 'recorded'] as const)('bad input, plant time by %s ticks', ticks => {
  const dirt = inOrder([
    ...unreadable(),
    ...strangers(),
    ...fromOtherTimes(),
    ...besides(),
    ...refusedRecords(),
    ...clean.filter((_, i) => i % 50 === 7).map(one => ({ ...one, comesMs: one.comesMs + 1 })),
  ])
  const found = play(inOrder([...clean, ...dirt]), ticks)
  const expected = play(clean, ticks)

  it('changes no event but those that tell of it', () => {
    expect(ofType(expected.events, 'recommendation.opened').length).toBeGreaterThan(0)
    expect(unlike(withoutCounts(found.events), withoutCounts(expected.events))).toEqual([])
  })

  it('gives every message an outcome and every refusal a field, a value and a rule', () => {
    for (const outcome of found.outcomes) {
      if (outcome.kind !== 'rejected') continue
      expect(outcome.faults.length).toBeGreaterThan(0)
      for (const fault of outcome.faults) {
        expect(fault.rule).not.toBe('')
        expect(fault.value).not.toBe('')
      }
    }
    const rejected = found.outcomes.filter(one => one.kind === 'rejected').length
    expect(found.state.counts.rejected).toBe(rejected)
    expect(rejected).toBe(unreadable().length + strangers().length + refusedRecords().length + 1)
    if (ticks === 'recorded') expect(found.state.counts.messages).toBe(found.outcomes.length + 1)
  })

  it('counts each excluded reading at its analyzer, with its reason', () => {
    const excluded = found.state.points.get('FE1')?.analyzers[0]?.excluded
    expect(excluded).toMatchObject({ too_old: 2, from_future: 3, conflict: 5, beyond_range: 5 })
  })

  it('counts unknown analyzers in a table of a thousand and beyond it without names', () => {
    const { unknownAnalyzers, unknownOverflow } = found.state.counts
    expect(unknownAnalyzers.size).toBe(1_000)
    expect(unknownOverflow).toBe(200)
    expect(unknownAnalyzers.get('X-0')).toBe(11)
  })

  it('tells of refusals at most fifty times an hour', () => {
    const told = ofType(found.events, 'message.rejected')
    const hours = new Map<string, number>()
    for (const event of told) hours.set(event.time.slice(0, 13), (hours.get(event.time.slice(0, 13)) ?? 0) + 1)
    expect(Math.max(...hours.values())).toBe(50)
    expect(told.every(event => event.data.notify === 'shift_summary')).toBe(true)
  })
})

describe('bad input, message by message', () => {
  it('holds a live reading against the time it came in', () => {
    const register = registerMessage(BUSY_REGISTER)
    let { state } = step(createPlantState(BUSY_REGISTER.plant), { feed: 'service', message: register })
    const receivedAt = formatInstant(at(1))
    const outcomes = [-60_000, 0, 300_000, 301_000].map(aheadMs => {
      const message = reading('FE1-A', at(1) + aheadMs, 0.2)
      const stepped = step(state, { feed: 'live', receivedAt, message })
      state = stepped.state
      return stepped.outcome
    })
    expect(outcomes).toEqual([
      { kind: 'accepted' },
      { kind: 'accepted' },
      { kind: 'accepted' },
      { kind: 'excluded', reason: 'from_future' },
    ])
  })

  it('refuses everything before the register and a register of another plant', () => {
    const stepped = step(createPlantState('small-plant'), { feed: 'file', message: reading('FE1-A', at(1), 0.2) })
    expect(stepped.outcome).toMatchObject({ kind: 'rejected', faults: [{ rule: 'must come after the register' }] })
    const other = registerMessage({ ...BUSY_REGISTER, plant: 'other-plant' })
    expect(step(stepped.state, { feed: 'service', message: other }).outcome.kind).toBe('rejected')
  })

  it('takes a small negative result in thousandths of a unit for what it is', () => {
    const bottle = grab('FE1', at(1), -5, 'small', { unit: 'mNTU' })
    const { outcomes } = run([bottle], { register: BUSY_REGISTER, ticks: 'event' })
    expect(outcomes).toEqual([{ kind: 'accepted' }])
  })

  it('keeps plant time where a tick goes back or repeats', () => {
    const ticks = [at(1), at(0, 5), at(1)].map(atMs => ({ kind: 'tick', time: formatInstant(atMs) }))
    const { state } = run([reading('FE1-A', at(0, 23), 0.2), ...ticks], { register: BUSY_REGISTER, ticks: 'recorded' })
    expect(state.plantMs).toBe(at(1))
  })
})

function unreadable(): readonly Sent[] {
  const values: unknown[] = [
    null,
    7,
    'text',
    [],
    {},
    { kind: 'weather', time: '2026-04-02T00:00:00Z' },
    { kind: 'constructor' },
    { kind: '__proto__' },
    { kind: 'reading' },
    { ...reading('FE1-A', at(1, 5), 0.2), value: 'Bad' },
    { ...reading('FE1-A', at(1, 5), 0.2), time: '2026-02-30T00:00:00Z' },
    { ...reading('FE1-A', at(1, 5), 0.2), unit: 'mg/L' },
    {
      kind: 'rejected',
      faults: [{ code: 'malformed_json', field: '', value: '{', rule: 'must be JSON' }],
      excerpt: '{',
    },
  ]
  return values.map((value, i) => ({ ...prompt(at(1, 5, i), value as Sent['message']) }))
}

/** 1,200 names nobody registered, the first of them eleven times. */
function strangers(): readonly Sent[] {
  const names = [
    ...Array.from({ length: 1_200 }, (_, i) => `X-${String(i)}`),
    ...Array.from({ length: 10 }, () => 'X-0'),
  ]
  return names.map((name, i) => prompt(at(1, 8) + i * 1_000, reading(name, at(1, 8) + i * 1_000, 0.2)))
}

/** Two from 1970, the first before plant time began; three from 2099; a tick from 2099. */
function fromOtherTimes(): readonly Sent[] {
  const old = { ...reading('FE1-A', 0, 0.2), time: '1970-01-01T00:00:00Z' }
  const future = (second: number): Sent['message'] => ({
    ...reading('FE1-A', 0, 0.2),
    time: `2099-01-01T00:00:0${String(second)}Z`,
  })
  return [
    { atMs: 0, comesMs: at(0) + 1, message: old },
    { atMs: 0, comesMs: at(2, 2), message: { ...old, value: 0.3 } },
    { atMs: 0, comesMs: at(0) + 2, message: future(1) },
    { atMs: 0, comesMs: at(1, 12), message: future(2) },
    { atMs: 0, comesMs: at(2, 12), message: future(3) },
    { atMs: 0, comesMs: at(2, 13), message: { kind: 'tick', time: '2099-01-01T00:00:00Z' } },
  ]
}

/** Beside honest readings: five times another, higher value for the same time, and five times -50 NTU a second later. */
function besides(): readonly Sent[] {
  const honest = clean.filter(one => one.message.analyzer === 'FE1-A' && one.atMs > at(2, 14)).slice(0, 5)
  return honest.flatMap(one => [
    { ...one, message: { ...one.message, value: (one.message.value as number) + 0.3 } },
    prompt(one.atMs + 1_000, reading('FE1-A', one.atMs + 1_000, -50)),
  ])
}

function refusedRecords(): readonly Sent[] {
  return [
    prompt(at(2, 1), grab('NOWHERE', at(2, 1), 0.2, 'n-1')),
    prompt(at(2, 1), grab('FE1', at(2, 1), -50, 'n-2')),
    prompt(at(2, 1), { ...grab('FE1', at(2, 1), 0.2, 'n-3'), value: 'about 0.2' }),
    prompt(at(2, 1), work('NOBODY', at(2, 1), 'zero')),
    prompt(at(2, 1), work('FE1-A', at(2, 1), 'polished')),
    prompt(at(2, 1), respond('FE1-A', 77, at(2, 1), 'acknowledged')),
    prompt(at(2, 1), respond('FE1-A', 1, at(2, 1), 'deferred')),
    // The same sample with another value, and no word of a correction.
    ...clean
      .filter(one => one.message.sampleId === 'CFE-3')
      .map(one => ({ ...one, comesMs: at(2, 1), message: { ...one.message, value: 3 } })),
  ]
}

function play(messages: readonly Sent[], ticks: 'event' | 'recorded'): Run {
  const ordered = ticks === 'recorded' ? withTicks(messages) : messages
  return run(messagesOf(ordered), { register: BUSY_REGISTER, ticks })
}

/** Lines without what the summary of a shift says of messages left out: that is what changes. */
function withoutCounts(events: readonly PlantEvent[]): readonly string[] {
  return events
    .filter(event => event.type !== 'message.rejected')
    .map(event => {
      if (event.type !== 'shift.summary') return lineOf(event)
      return lineOf({ ...event, data: { ...event.data, excluded: {} } })
    })
}
