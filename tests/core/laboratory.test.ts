import { describe, expect, it } from 'vitest'
import { restorePlant, serialisePlant } from '../../src/core/serialise.js'
import type { RegisterFile } from '../../src/model/register.js'
import { HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { stateText } from './support/fold.js'
import { seeded } from './support/random.js'
import { lineOf, messagesOf, ofType, run, textOf, unlike, withTicks } from './support/run.js'
import { at, inOrder, makeStream } from './support/stream.js'

/** Five points of one laboratory, whose results stand high by two tolerances for three days. */
const register: RegisterFile = {
  plant: 'small-plant',
  points: Object.fromEntries(
    ['P1', 'P2', 'P3', 'P4', 'P5'].map(point => [
      point,
      { grab: { perDay: 4 }, analyzers: { [`${point}-A`]: { unit: 'NTU', intervalS: 300, rangeNtu: [0, 10] } } },
    ]),
  ),
}
const [FROM_MS, UNTIL_MS] = [at(3), at(6)]
const sent = makeStream({
  register,
  seed: 91,
  days: 8,
  grabError: (_point, atMs) => (atMs > FROM_MS && atMs < UNTIL_MS ? 0.12 : 0),
})
const messages = messagesOf(withTicks(sent))
const onTime = run(messages, { register, ticks: 'recorded' })

describe('a shift of the laboratory', () => {
  it('is laid at its own door, at no analyzer, and ends with the results', () => {
    const said = onTime.events.filter(event => event.type.startsWith('recommendation.'))
    expect(said.map(event => [event.type, event.subject])).toEqual([
      ['recommendation.opened', 'laboratory:all'],
      ['recommendation.closed', 'laboratory:all'],
    ])
    const [interval] = onTime.state.laboratory.intervals
    expect(Math.abs((interval?.fromMs ?? 0) - FROM_MS)).toBeLessThan(at(0, 8) - at(0))
    expect(Math.abs((interval?.untilMs ?? 0) - UNTIL_MS)).toBeLessThan(at(0, 8) - at(0))
    expect(ofType(onTime.events, 'reference.suspect').some(event => event.data.reference === 'laboratory')).toBe(true)
  })

  it('survives a restart anywhere', () => {
    const broken = run(messages, {
      register,
      ticks: 'recorded',
      between: (state, i) => (i % 2_000 === 1_999 ? restorePlant(serialisePlant(state)) : state),
    })
    expect(textOf(broken.events) === textOf(onTime.events)).toBe(true)
    expect(stateText(broken.state) === stateText(onTime.state)).toBe(true)
  })

  it('is the same in any legal order', () => {
    const random = seeded(92)
    const other = inOrder(sent.map(one => ({ ...one, comesMs: one.atMs + random.below(2 * MINUTE_MS + 1) })))
    const { events } = run(messagesOf(withTicks(other)), { register, ticks: 'recorded' })
    expect(unlike(events.map(lineOf), onTime.events.map(lineOf))).toEqual([])
  })

  it('is named and ends although every result comes three hours late', () => {
    const late = inOrder(
      sent.map(one => (one.message.kind === 'grab' ? { ...one, comesMs: one.atMs + 3 * HOUR_MS } : one)),
    )
    const { events, state } = run(messagesOf(withTicks(late)), { register, ticks: 'recorded' })
    expect(
      events.filter(event => event.type.startsWith('recommendation.')).map(event => [event.type, event.subject]),
    ).toEqual([
      ['recommendation.opened', 'laboratory:all'],
      ['recommendation.closed', 'laboratory:all'],
    ])
    expect(Math.abs((state.laboratory.intervals[0]?.untilMs ?? 0) - UNTIL_MS)).toBeLessThan(8 * HOUR_MS)
    for (const point of state.points.values()) expect(point.pairs.at(-1)?.use).toBe('used')
  })

  it('is named although one point sends its results two days late', () => {
    const late = inOrder(
      sent.map(one =>
        one.message.point === 'P3' && one.atMs < at(5) ? { ...one, comesMs: one.comesMs + at(2) - at(0) } : one,
      ),
    )
    const { events, state } = run(messagesOf(withTicks(late)), { register, ticks: 'recorded' })
    const opened = ofType(events, 'recommendation.opened').map(event => event.subject)
    expect(opened).toEqual(['laboratory:all'])
    expect(state.laboratory.intervals.at(-1)?.untilMs).not.toBeNull()
    for (const point of state.points.values()) expect(point.fold.units[0]?.case).toBeNull()
  })
})
