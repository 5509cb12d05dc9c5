import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { restorePlant, serialisePlant } from '../../src/core/serialise.js'
import { BUSY_REGISTER, busyStream, closing } from './support/busyStream.js'
import { stateText } from './support/fold.js'
import { seeded } from './support/random.js'
import { messagesOf, run, textOf, withTicks } from './support/run.js'
import { smallRegister } from './support/register.js'
import { at, inOrder, makeStream, prompt, work } from './support/stream.js'

describe('a state that is stored and read back', () => {
  const sent = inOrder([...busyStream(21, 4.5), ...closing(BUSY_REGISTER, at(4.5))])

  it.each(['event', 'recorded'] as const)('goes on as if nothing had happened, cut anywhere, by %s ticks', ticks => {
    const messages = messagesOf(ticks === 'recorded' ? withTicks(sent) : sent)
    const unbroken = run(messages, { register: BUSY_REGISTER, ticks })
    const expected = textOf(unbroken.events)
    const expectedState = stateText(unbroken.state)
    expect(expected).toContain('recommendation.opened')
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1_000_000 }), seed => {
        const cuts = cutsAt(messages.length, seed)
        const broken = run(messages, {
          register: BUSY_REGISTER,
          ticks,
          between: (state, i) => (cuts.has(i) ? restorePlant(serialisePlant(state)) : state),
        })
        expect(firstDifference(textOf(broken.events), expected)).toBe('')
        expect(firstDifference(stateText(broken.state), expectedState)).toBe('')
      }),
      { seed: 20260402, numRuns: 5 },
    )
  })

  it('gives the same text again when stored twice', () => {
    const { state } = run(messagesOf(sent), { register: BUSY_REGISTER, ticks: 'event' })
    const text = stateText(state)
    expect(firstDifference(stateText(restorePlant(serialisePlant(state))), text)).toBe('')
  })

  it('keeps the order of findings that began together and apart', () => {
    // CFE-B falls silent hours before CFE-A and comes back with it; both stand in the summary of the shift.
    const register = smallRegister(['FE1', 'CFE'])
    const silent = makeStream({
      register,
      seed: 5,
      days: 2,
      sends: (analyzer, atMs) => analyzer === 'FE1-A' || atMs < at(1, analyzer === 'CFE-B' ? 2 : 9) || atMs > at(1, 17),
    })
    const messages = messagesOf(silent)
    const unbroken = run(messages, { register, ticks: 'event' })
    const broken = run(messages, {
      register,
      ticks: 'event',
      between: (state, i) => (i % 40 === 0 ? restorePlant(serialisePlant(state)) : state),
    })
    expect(unbroken.events.filter(event => event.type === 'analyzer.finding').length).toBeGreaterThan(4)
    expect(firstDifference(textOf(broken.events), textOf(unbroken.events))).toBe('')
  })

  it('keeps text that looks like its own marks', () => {
    const marked = work('CFE-A', at(0, 5), 'verified', {
      reference: { type: 'zero_water', assigned: 0, $map: 1, $f64: 'AAAA' },
      note: '$map',
    })
    const messages = messagesOf(inOrder([...busyStream(22, 0.5), prompt(at(0, 5), marked)]))
    const { state } = run(messages, { register: BUSY_REGISTER, ticks: 'event' })
    const text = stateText(state)
    expect(firstDifference(stateText(restorePlant(serialisePlant(state))), text)).toBe('')
  })

  it('refuses rows of another version and rows that are missing', () => {
    const { state } = run(messagesOf(sent.slice(0, 50)), { register: BUSY_REGISTER, ticks: 'event' })
    const rows = serialisePlant(state)
    const other = new Map(rows).set('plant', rows.get('plant')!.replace('"version":1', '"version":99'))
    expect(() => restorePlant(other)).toThrow(/version 99/)
    const less = new Map(rows)
    less.delete('blocks CFE')
    expect(() => restorePlant(less)).toThrow(/blocks CFE/)
  })
})

/** Three places anywhere, and one right behind each fifth of the run. */
function cutsAt(messages: number, seed: number): ReadonlySet<number> {
  const random = seeded(seed)
  return new Set([0.2, 0.4, 0.6, 0.8, 1, 1, 1].map(share => Math.floor(share * random.below(messages))))
}

/** The first place where two texts part, shortened; empty where they are equal. */
function firstDifference(found: string, expected: string): string {
  if (found === expected) return ''
  let i = 0
  while (found[i] === expected[i]) i += 1
  const [from, to] = [Math.max(0, i - 120), i + 120]
  return `at ${String(i)}: ...${found.slice(from, to)}...\nexpected: ...${expected.slice(from, to)}...`
}
