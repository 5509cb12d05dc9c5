import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { restorePlant, serialisePlant } from '../../src/core/serialise.js'
import type { RegisterFile } from '../../src/model/register.js'
import { HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { stateText } from './support/fold.js'
import { seeded } from './support/random.js'
import { lineOf, messagesOf, run, textOf, unlike, withTicks } from './support/run.js'
import { at, grab, inOrder, makeStream, prompt, type Sent } from './support/stream.js'

/** Four points of one area, three days: a common shift, a dip of the power, two exchanged bottles, a check of the bench. */
const register: RegisterFile = {
  plant: 'small-plant',
  points: Object.fromEntries(
    ['P1', 'P2', 'P3', 'P4'].map(point => [
      point,
      {
        area: 'Hall',
        grab: { perDay: 4 },
        analyzers: { [`${point}-A`]: { unit: 'NTU', intervalS: 300, rangeNtu: [0, 10] } },
      },
    ]),
  ),
}
const DIP = { fromMs: at(1, 9, 2), untilMs: at(1, 9, 31) }
const EXCHANGED_MS = at(2, 20)
/** From noon of the third day each point's water is another by two thirds. */
const shiftAt = (atMs: number) => Math.max(0, Math.min(1, (atMs - at(2, 12)) / (2 * HOUR_MS)))
const restart = (atMs: number) =>
  atMs > DIP.untilMs ? 0.3 * Math.max(0, 1 - (atMs - DIP.untilMs) / (30 * MINUTE_MS)) : 0

const sent: readonly Sent[] = makeStream({
  register,
  seed: 71,
  days: 3.5,
  error: (_, atMs) => 0.3 * shiftAt(atMs) + restart(atMs),
  sends: (_, atMs) => atMs < DIP.fromMs || atMs > DIP.untilMs,
  grabError: (_, atMs) => 0.3 * shiftAt(atMs),
  also: [
    prompt(EXCHANGED_MS, grab('P1', EXCHANGED_MS, 0.95, 'x-1')),
    prompt(EXCHANGED_MS + 10 * MINUTE_MS, grab('P4', EXCHANGED_MS + 10 * MINUTE_MS, 0.5, 'x-4')),
  ],
})
const LATENESS_MS = 2 * MINUTE_MS
const play = (messages: readonly Sent[]) => run(messagesOf(withTicks(messages)), { register, ticks: 'recorded' })
const onTime = play(sent)
const expected = onTime.events.map(lineOf)
const said = (events: typeof onTime.events) =>
  events.flatMap(({ type, data }) =>
    type === 'reference.suspect' && data.points !== undefined
      ? [data.points.join()]
      : type === 'analyzer.finding' && (data.finding === 'power_dip' || data.finding === 'process_change')
        ? [`${data.finding} ${data.phase}`]
        : [],
  )

function checkEach(runs: number, check: (seed: number) => void): void {
  fc.assert(fc.property(fc.integer({ min: 1, max: 1_000_000 }), check), { seed: 20260401, numRuns: runs })
}

function delayed(seed: number): readonly Sent[] {
  const random = seeded(seed)
  return inOrder(sent.map(one => ({ ...one, comesMs: one.atMs + random.below(LATENESS_MS + 1) })))
}

describe('what is seen across points', () => {
  it('is there at all', () => {
    expect(said(onTime.events)).toEqual(
      expect.arrayContaining(['power_dip began', 'power_dip ended', 'process_change began', 'P1,P4']),
    )
  })

  it('is the same in any legal order', () => {
    checkEach(4, seed => {
      expect(unlike(play(delayed(seed)).events.map(lineOf), expected)).toEqual([])
    })
  })

  it('is the same with repeats', () => {
    checkEach(3, seed => {
      const random = seeded(seed)
      const again = sent.flatMap(one =>
        random.uniform() < 0.1 ? [{ ...one, comesMs: one.comesMs + random.below(24 * HOUR_MS) }] : [],
      )
      const endMs = sent.at(-1)!.comesMs
      const repeated = inOrder([...sent, ...again.filter(one => one.comesMs < endMs)])
      expect(unlike(play(repeated).events.map(lineOf), expected)).toEqual([])
    })
  })

  it('survives a restart anywhere', () => {
    const broken = run(messagesOf(withTicks(sent)), {
      register,
      ticks: 'recorded',
      between: (state, i) => (i % 500 === 499 ? restorePlant(serialisePlant(state)) : state),
    })
    expect(textOf(broken.events) === textOf(onTime.events)).toBe(true)
    expect(stateText(broken.state) === stateText(onTime.state)).toBe(true)
  })

  it('ends alike where one of two exchanged bottles is reported eight hours late', () => {
    const late = inOrder(
      sent.map(one => (one.message.sampleId === 'x-4' ? { ...one, comesMs: one.comesMs + 8 * HOUR_MS } : one)),
    )
    const found = play(late)
    expect(found.state.sights.exchanged).toEqual(onTime.state.sights.exchanged)
    for (const id of ['P1', 'P4']) {
      const uses = (state: typeof found.state) => state.points.get(id)?.pairs.map(pair => [pair.sampleId, pair.use])
      expect(uses(found.state)).toEqual(uses(onTime.state))
    }
  })

  it('takes back an exchange that the laboratory corrects', () => {
    const right = [
      grab('P1', EXCHANGED_MS, 0.5, 'y-1', { corrects: 'x-1' }),
      grab('P4', EXCHANGED_MS + 10 * MINUTE_MS, 0.95, 'y-4', { corrects: 'x-4' }),
    ].map(message => ({ ...prompt(EXCHANGED_MS, message), comesMs: EXCHANGED_MS + 5 * HOUR_MS }))
    const found = play(inOrder([...sent, ...right]))
    expect(said(found.events)).toContain('P1,P4')
    expect(found.state.sights.exchanged).toEqual([])
    const uses = ['P1', 'P4'].map(
      id => found.state.points.get(id)?.pairs.find(pair => pair.sampleId?.startsWith('y'))?.use,
    )
    expect(uses).toEqual(['used', 'used'])
  })

  it('is no dip where the readings of the gap come after all', () => {
    const whole = makeStream({ register, seed: 71, days: 3.5, error: (_, atMs) => 0.3 * shiftAt(atMs) + restart(atMs) })
    const buffered = whole.map(one =>
      one.message.kind === 'reading' && one.atMs >= at(1, 9) && one.atMs < at(1, 9, 45)
        ? { ...one, comesMs: at(1, 13) + (one.atMs % 1_000) }
        : one,
    )
    const found = play(inOrder(buffered))
    expect(found.state.sights.dips).toEqual([])
    expect([...found.state.published.findings.values()].filter(one => one.finding === 'power_dip')).toEqual([])
  })

  it('is no dip where all fall silent together and come back as they went', () => {
    const { events, state } = play(
      makeStream({
        register,
        seed: 72,
        days: 2,
        sends: (_, atMs) => atMs < DIP.fromMs || atMs > DIP.untilMs,
      }),
    )
    expect(state.sights.dips).toEqual([])
    expect(said(events).filter(one => one.startsWith('power_dip'))).toEqual([])
  })
})
