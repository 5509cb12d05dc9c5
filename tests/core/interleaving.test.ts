import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { BUSY_REGISTER, busyStream, closing, respond } from './support/busyStream.js'
import { seeded } from './support/random.js'
import { lineOf, messagesOf, type RunOptions, run, unlike, withTicks } from './support/run.js'
import { smallRegister } from './support/register.js'
import { at, grab, inOrder, makeStream, prompt, type Sent } from './support/stream.js'

/** The lateness a register allows where it says nothing: 120 s. */
const LATENESS_MS = 2 * MINUTE_MS

/**
 * Weak reproducibility: any interleaving of the same messages in which none is later than the lateness allowed, with
 * any number of repeats, gives the same set of events.
 */
describe.each(['event', 'recorded'] as const)('any legal interleaving, plant time by %s ticks', ticks => {
  // The record begins in the middle of a block, where the first messages race the first tick.
  const sent = [...busyStream(11, 4.5, at(0, 0, 8)), ...closing(BUSY_REGISTER, at(4.5))]

  it('gives the same set of events', () => {
    const expected = linesOf(sent, ticks)
    expect(expected.filter(line => line.includes('recommendation.closed'))).toHaveLength(1)
    checkEach(6, seed => {
      expect(unlike(linesOf(delayed(sent, seed), ticks), expected)).toEqual([])
    })
  })

  it('gives the same set of events where the first messages race the first tick', () => {
    // From a quarter of a minute before a block ends, twelve messages a minute.
    const register = smallRegister(['FE1', 'CFE'], {}, 15)
    const readings = makeStream({ register, seed: 12, days: 0.1, fromMs: at(0, 0, 14) + 40_000 })
    const short = [...readings, ...closing(register, at(0.1))]
    const expected = linesOf(short, ticks)
    checkEach(20, seed => {
      expect(unlike(linesOf(delayed(short, seed), ticks), expected)).toEqual([])
    })
  })

  it('gives the same set of events with repeats at any time after', () => {
    const expected = linesOf(sent, ticks)
    checkEach(5, seed => {
      expect(unlike(linesOf(withRepeats(delayed(sent, seed), seed), ticks), expected)).toEqual([])
    })
  })

  it('answers a response at the same plant time however late within the allowance it comes', () => {
    const response = prompt(at(3, 5, 1), respond('FE1-A', 1, at(3, 5, 1), 'acknowledged'))
    const answered = inOrder([...sent.filter(one => one.message.kind !== 'response'), response])
    const expected = linesOf(answered, ticks)
    expect(expected.filter(line => line.includes('recommendation.answered'))).toHaveLength(1)
    for (const lateMs of [0, 61_000, LATENESS_MS]) {
      const moved = inOrder(answered.map(one => (one === response ? { ...one, comesMs: response.atMs + lateMs } : one)))
      expect(unlike(linesOf(moved, ticks), expected)).toEqual([])
    }
  })

  it('takes a correction that overtakes what it corrects', () => {
    const wrong = prompt(at(2, 6), grab('FE1', at(2, 6), 3.5, 'FE1-x'))
    const right = prompt(at(2, 6), grab('FE1', at(2, 6), 0.21, 'FE1-y', { corrects: 'FE1-x' }))
    const ordered = [{ ...wrong, comesMs: wrong.atMs + 10_000 }, right]
    const overtaking = [{ ...wrong, comesMs: wrong.atMs + 60_000 }, right]
    const expected = linesOf(inOrder([...sent, ...ordered]), ticks)
    expect(unlike(linesOf(inOrder([...sent, ...overtaking]), ticks), expected)).toEqual([])
  })

  it('takes the same of two versions of one result that nobody calls a correction', () => {
    const one = prompt(at(2, 6), grab('FE1', at(2, 6), 0.21, 'FE1-x'))
    const other = prompt(at(2, 6), grab('FE1', at(2, 6), 0.29, 'FE1-x'))
    const [a, b] = [
      [one, { ...other, comesMs: other.comesMs + 20_000 }],
      [{ ...one, comesMs: one.comesMs + 20_000 }, other],
    ].map(pair => linesOf(inOrder([...sent, ...pair]), ticks).filter(line => !line.includes('message.rejected')))
    expect(unlike(a ?? [], b ?? [])).toEqual([])
  })

  it('takes the repeat of a result that has been corrected under its own name', () => {
    const wrong = prompt(at(2, 6), grab('FE1', at(2, 6), 3.5, 'FE1-x'))
    const right = { ...prompt(at(2, 6), grab('FE1', at(2, 6), 0.21, 'FE1-x', { corrects: 'FE1-x' })) }
    const expected = linesOf(inOrder([...sent, wrong, { ...right, comesMs: wrong.comesMs + 1_000 }]), ticks)
    const again = inOrder([
      ...sent,
      wrong,
      { ...right, comesMs: wrong.comesMs + 1_000 },
      { ...wrong, comesMs: wrong.comesMs + HOUR_MS },
    ])
    expect(unlike(linesOf(again, ticks), expected)).toEqual([])
  })
})

function checkEach(runs: number, check: (seed: number) => void): void {
  fc.assert(fc.property(fc.integer({ min: 1, max: 1_000_000 }), check), { seed: 20260401, numRuns: runs })
}

/** Each message by itself comes anything from at once to the lateness allowed after its own time. */
function delayed(sent: readonly Sent[], seed: number): readonly Sent[] {
  const random = seeded(seed)
  return inOrder(sent.map(one => ({ ...one, comesMs: one.atMs + random.below(LATENESS_MS + 1) })))
}

/** A tenth of the messages come again once or twice: at once, in the next minutes or up to two days after. */
function withRepeats(sent: readonly Sent[], seed: number): readonly Sent[] {
  const random = seeded(seed + 1)
  const endMs = sent.at(-1)?.comesMs ?? 0
  const again = sent.flatMap(one => {
    if (random.uniform() > 0.1) return []
    const within = [1_000, 10 * MINUTE_MS, 48 * HOUR_MS][random.below(3)] ?? 1_000
    const copy = { ...one, comesMs: Math.min(endMs, one.comesMs + random.below(within)) }
    return random.uniform() > 0.5 ? [copy] : [copy, copy]
  })
  // A repeat stands behind what it repeats.
  return [...sent, ...again]
    .map((one, i) => ({ one, i }))
    .sort((a, b) => a.one.comesMs - b.one.comesMs || a.i - b.i)
    .map(({ one }) => one)
}

function linesOf(sent: readonly Sent[], ticks: RunOptions['ticks']): readonly string[] {
  const ordered = ticks === 'recorded' ? withTicks(sent) : sent
  return run(messagesOf(ordered), { register: BUSY_REGISTER, ticks }).events.map(lineOf).sort()
}
