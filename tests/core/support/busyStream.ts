import { recommendationId } from '../../../src/model/identity.js'
import type { RegisterFile } from '../../../src/model/register.js'
import { HOUR_MS } from '../../../src/model/time.js'
import { smallRegister } from './register.js'
import { at, makeStream, prompt, type Sent, START_MS, type Wire, work } from './stream.js'

export const BUSY_REGISTER: RegisterFile = smallRegister(['FE1', 'CFE'])

/**
 * Five days in which much happens to few units: FE1-A steps up, is answered, zeroed and proven; CFE-B falls silent,
 * sticks, is worked on under a maintenance flag; FE1 is backwashed; one bottle is wrong and repeated.
 */
export function busyStream(seed: number, days = 5, fromMs = START_MS): readonly Sent[] {
  return makeStream({
    fromMs,
    register: BUSY_REGISTER,
    seed,
    days,
    error: (analyzer, atMs) => {
      if (analyzer === 'FE1-A') return atMs > at(1, 6) && atMs < at(3, 10) ? 0.15 : 0
      return 0
    },
    sends: (analyzer, atMs) => !(analyzer === 'CFE-B' && atMs > at(0, 15) && atMs < at(0, 18, 20)),
    grabError: (point, atMs) => (point === 'CFE' && atMs > at(1, 20) && atMs < at(2, 1) ? 0.4 : 0),
    extra: (analyzer, atMs) =>
      analyzer === 'CFE-B' && atMs > at(1, 9) && atMs < at(1, 11) ? { state: 'maintenance' } : {},
    also: [
      prompt(at(0, 1), process('FE1', at(0, 1), 'in_service')),
      prompt(at(1, 2), process('FE1', at(1, 2), 'backwash')),
      prompt(at(1, 2, 40), process('FE1', at(1, 2, 40), 'in_service')),
      prompt(at(2, 20), acknowledge('FE1-A', 1, at(2, 20))),
      prompt(at(3, 9), work('FE1-A', at(3, 9), 'maintenance_on', { id: 'w-1' })),
      prompt(at(3, 9, 40), work('FE1-A', at(3, 9, 40), 'zero', { id: 'w-2', asFound: 0.15, asLeft: 0 })),
      prompt(at(3, 10), work('FE1-A', at(3, 10), 'maintenance_off', { id: 'w-3' })),
    ].filter(one => one.atMs < at(days)),
  })
}

export function process(point: string, atMs: number, state: string): Wire {
  return { kind: 'process', point, time: new Date(atMs).toISOString(), state }
}

export function acknowledge(analyzer: string, counter: number, atMs: number): Wire {
  return respond(analyzer, counter, atMs, 'acknowledged')
}

/** A response to the n-th recommendation about a target: its id is known in advance. */
export function respond(
  target: string,
  counter: number,
  atMs: number,
  decision: 'acknowledged' | 'deferred' | 'rejected',
  extra: Record<string, unknown> = {},
): Wire {
  return {
    kind: 'response',
    recommendation: recommendationId(BUSY_REGISTER.plant, target, counter),
    time: new Date(atMs).toISOString(),
    decision,
    ...extra,
  }
}

/** Readings an hour after the end, enough to carry plant time past every block before: nothing is left half done. */
export function closing(register: RegisterFile, endMs: number): readonly Sent[] {
  const analyzers = Object.values(register.points).flatMap(point => Object.keys(point.analyzers))
  return Array.from({ length: 6 }, (_, i) => {
    const atMs = endMs + HOUR_MS + i * 60_000
    const analyzer = analyzers[i % analyzers.length]!
    return prompt(atMs, { kind: 'reading', analyzer, time: new Date(atMs).toISOString(), value: 0.2, unit: 'NTU' })
  })
}
