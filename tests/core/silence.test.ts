import { describe, expect, it } from 'vitest'
import type { RegisterFile } from '../../src/model/register.js'
import { smallRegister } from './support/register.js'
import { messagesOf, ofType, run, withTicks } from './support/run.js'
import { at, makeStream, type StreamPlan } from './support/stream.js'

/** FE1-A, CFE-A, CFE-B and SW-A. */
const REGISTER: RegisterFile = smallRegister(['FE1', 'CFE', 'SW'])

/** Findings about silence, short: what, whom it concerns, phase, hour and minute. */
function silences(plan: Omit<StreamPlan, 'register' | 'seed'>, comesMs?: (analyzer: string, atMs: number) => number) {
  const sent = makeStream({ register: REGISTER, seed: 17, ...plan }).map(one => {
    const analyzer = one.message.analyzer
    return typeof analyzer !== 'string' || comesMs === undefined
      ? one
      : { ...one, comesMs: comesMs(analyzer, one.atMs) }
  })
  const { events } = run(messagesOf(withTicks(sent)), { register: REGISTER, ticks: 'recorded' })
  const until = new Date(at(plan.days)).toISOString()
  const told = ofType(events, 'analyzer.finding')
    .filter(one => one.time < until && one.data.finding.endsWith('silent'))
    .map(({ time, subject, data }) => [
      data.finding,
      data.finding === 'silent' ? subject : String(data.detail.analyzers),
      data.phase,
      time.slice(8, 16),
    ])
  const opened = ofType(events, 'recommendation.opened')
    .filter(one => one.time < until && one.data.action === 'check_signal')
    .map(one => [one.subject, one.time.slice(8, 16)])
  return { told, opened }
}

const outBetween =
  (from: Readonly<Record<string, number>>, until: Readonly<Record<string, number>>) =>
  (analyzer: string, atMs: number): boolean =>
    atMs < (from[analyzer] ?? Infinity) || atMs >= (until[analyzer] ?? Infinity)

describe('silence', () => {
  it('of two analyzers is told of each', () => {
    const sends = outBetween({ 'CFE-A': at(0, 10), 'CFE-B': at(0, 10) }, { 'CFE-A': at(0, 14), 'CFE-B': at(0, 14) })
    expect(silences({ days: 1, sends }).told).toEqual([
      ['silent', 'CFE-A', 'began', '01T10:32'],
      ['silent', 'CFE-B', 'began', '01T10:32'],
      ['silent', 'CFE-A', 'ended', '01T14:17'],
      ['silent', 'CFE-B', 'ended', '01T14:17'],
    ])
  })

  it('of three within a block of each other is told once, also where the cut falls between their readings', () => {
    const from = { 'CFE-A': at(0, 10), 'CFE-B': at(0, 10, 2), 'SW-A': at(0, 10, 2) }
    const until = { 'CFE-A': at(0, 14), 'CFE-B': at(0, 14, 16), 'SW-A': at(0, 14) }
    expect(silences({ days: 1, sends: outBetween(from, until) }).told).toEqual([
      ['many_silent', 'CFE-A CFE-B SW-A', 'began', '01T10:47'],
      ['many_silent', 'CFE-A CFE-B SW-A', 'ended', '01T14:32'],
    ])
  })

  it('of one that does not come back with the others becomes its own', () => {
    const from = { 'CFE-A': at(0, 10), 'CFE-B': at(0, 10), 'SW-A': at(0, 10) }
    const until = { 'CFE-A': at(0, 14), 'CFE-B': at(0, 14), 'SW-A': at(0, 20) }
    expect(silences({ days: 1, sends: outBetween(from, until) }).told).toEqual([
      ['many_silent', 'CFE-A CFE-B SW-A', 'began', '01T10:32'],
      ['many_silent', 'CFE-A CFE-B SW-A', 'ended', '01T14:47'],
      ['silent', 'SW-A', 'began', '01T14:47'],
      ['silent', 'SW-A', 'ended', '01T20:17'],
    ])
  })

  it('of many, a day long, asks for no check of each; of one alone it does', () => {
    const from = { 'CFE-A': at(0, 10), 'CFE-B': at(0, 10), 'SW-A': at(0, 10), 'FE1-A': at(0, 16) }
    expect(silences({ days: 2.5, sends: outBetween(from, {}) }).opened).toEqual([['FE1-A', '02T16:02']])
  })

  it('that a later hour joins is another one', () => {
    const from = { 'CFE-A': at(0, 10), 'CFE-B': at(0, 10), 'SW-A': at(0, 10), 'FE1-A': at(0, 12) }
    expect(silences({ days: 1, sends: outBetween(from, {}) }).told).toEqual([
      ['many_silent', 'CFE-A CFE-B SW-A', 'began', '01T10:32'],
      ['silent', 'FE1-A', 'began', '01T12:32'],
    ])
  })

  it('ends where the buffer of a gateway comes, all at once', () => {
    const cut = (atMs: number): boolean => atMs >= at(0, 10) && atMs < at(0, 14)
    const { told } = silences({ days: 1 }, (_analyzer, atMs) => (cut(atMs) ? at(0, 14) : atMs + 30_000))
    expect(told).toEqual([
      ['many_silent', 'CFE-A CFE-B FE1-A SW-A', 'began', '01T10:32'],
      ['many_silent', 'CFE-A CFE-B FE1-A SW-A', 'ended', '01T14:02'],
    ])
  })
})
