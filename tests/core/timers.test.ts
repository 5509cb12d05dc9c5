import { describe, expect, it } from 'vitest'
import { formatInstant, HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { respond } from './support/busyStream.js'
import { smallRegister } from './support/register.js'
import { messagesOf, ofType, type Run, run, storyOf, textOf, withTicks } from './support/run.js'
import { at, makeStream, prompt, type Sent, type StreamPlan, work } from './support/stream.js'

/** Ticks of a live service, and of one whose clock is asked once an hour: timers must fire at the same plant time. */
const CLOCKS = [MINUTE_MS, HOUR_MS]

describe('timers', () => {
  it('a silent analyzer is found after two empty blocks and when it comes back', () => {
    const register = smallRegister(['FE1', 'CFE'])
    const { events } = sameByAnyClock({
      register,
      seed: 41,
      days: 1.5,
      sends: (analyzer, atMs) => analyzer !== 'FE1-A' || atMs < at(0, 10) || atMs >= at(1, 2, 40),
    })
    const findings = ofType(events, 'analyzer.finding').filter(one => one.subject === 'FE1-A')
    expect(findings.map(one => [one.data.finding, one.data.phase, one.time, one.data.since])).toEqual([
      ['silent', 'began', '2026-04-01T10:32:00Z', '2026-04-01T10:00:00Z'],
      ['silent', 'ended', '2026-04-02T02:47:00Z', '2026-04-01T10:00:00Z'],
    ])
    // Silence is not health.
    const during = ofType(events, 'analyzer.status').filter(
      one => one.subject === 'FE1-A' && one.time > '2026-04-01T10:32:00Z' && one.time < '2026-04-02T02:00:00Z',
    )
    expect(new Set(during.map(one => one.data.assessment))).toEqual(new Set(['signal_fault']))
  })

  it('a day of silence becomes a request to check the signal, closed when readings come again', () => {
    const register = smallRegister(['FE1', 'CFE'])
    const { events } = sameByAnyClock({
      register,
      seed: 42,
      days: 2.5,
      sends: (analyzer, atMs) => analyzer !== 'FE1-A' || atMs < at(0, 10) || atMs >= at(2, 2, 40),
    })
    const said = events.filter(one => one.type.startsWith('recommendation.'))
    expect(said.map(one => [one.type, one.time])).toEqual([
      ['recommendation.opened', '2026-04-02T10:02:00Z'],
      ['recommendation.closed', '2026-04-03T02:47:00Z'],
    ])
    expect(ofType(events, 'recommendation.opened')[0]?.data.action).toBe('check_signal')
  })

  it('a feed that is down answers for the silence of its own analyzers, not for others', () => {
    const register = smallRegister(['FE1', 'CFE'])
    const sent = makeStream({
      register,
      seed: 43,
      days: 1,
      sends: (_analyzer, atMs) => atMs < at(0, 10) || atMs > at(0, 16),
    })
    const isDown = (atMs: number): string[] => (atMs >= at(0, 10) && atMs <= at(0, 16, 20) ? ['north'] : [])
    const feedOf = (message: unknown): string => (JSON.stringify(message).includes('"FE1-A"') ? 'north' : 'south')
    const messages = messagesOf(withTicks(sent, MINUTE_MS, isDown))
    const { events } = run(messages, { register, ticks: 'recorded', feedOf })
    const feeds = ofType(events, 'analyzer.finding').filter(one => one.data.finding === 'feed_down')
    expect(feeds.map(one => [one.subject, one.data.phase, one.data.summary.split(';')[0]])).toEqual([
      ['feed:north', 'began', 'The feed north is down since 1 Apr 2026, 10:02 UTC'],
      ['feed:north', 'ended', 'The feed north is no longer down'],
    ])
    const silent = ofType(events, 'analyzer.finding').filter(
      one => one.data.finding === 'silent' && one.time < '2026-04-02T00:00:00Z',
    )
    expect(new Set(silent.map(one => one.subject))).toEqual(new Set(['CFE-A', 'CFE-B']))
  })

  it('a maintenance flag that was forgotten, by record and by the state field, eight hours after it was set', () => {
    const register = smallRegister(['CFE', 'SW'])
    const { events } = sameByAnyClock({
      register,
      seed: 44,
      days: 1,
      extra: (analyzer, atMs) => (analyzer === 'SW-A' && atMs >= at(0, 9) ? { state: 'maintenance' } : {}),
      also: [prompt(at(0, 8), work('CFE-B', at(0, 8), 'maintenance_on'))],
    })
    const forgotten = ofType(events, 'analyzer.finding').filter(one => one.data.finding === 'maintenance_forgotten')
    expect(forgotten.map(one => [one.subject, one.time, one.data.since])).toEqual([
      ['CFE-B', '2026-04-01T16:17:00Z', '2026-04-01T08:00:00Z'],
      ['SW-A', '2026-04-01T17:17:00Z', '2026-04-01T09:00:00Z'],
    ])
  })

  it('a reading that does not settle after work, at the end of the cap, until the next work', () => {
    const register = smallRegister(['FE1'])
    const { events } = sameByAnyClock({
      register,
      seed: 45,
      days: 1.5,
      // Climbs by two tolerances an hour.
      error: (_analyzer, atMs) => (atMs > at(0, 12) && atMs < at(0, 21) ? (0.1 * (atMs - at(0, 12))) / HOUR_MS : 0),
      also: [
        prompt(at(0, 12), work('FE1-A', at(0, 12), 'cleaned')),
        prompt(at(0, 21), work('FE1-A', at(0, 21), 'cleaned')),
      ],
    })
    const findings = ofType(events, 'analyzer.finding').filter(one => one.data.finding === 'did_not_settle')
    expect(findings.map(one => [one.data.phase, one.time])).toEqual([
      ['began', '2026-04-01T18:17:00Z'],
      ['ended', '2026-04-01T21:17:00Z'],
    ])
  })

  it('the end of a deferral: said once, at its time', () => {
    const register = smallRegister(['FE1'])
    const until = at(5, 7, 20)
    const { events } = sameByAnyClock({
      register,
      seed: 46,
      days: 6.5,
      error: (_analyzer, atMs) => (atMs > at(1, 6) ? 0.15 : 0),
      also: [
        prompt(
          at(3, 8),
          respond('FE1-A', 1, at(3, 8), 'deferred', { until: formatInstant(until), reason: 'spare part on order' }),
        ),
      ],
    })
    const said = events.filter(one => one.type.startsWith('recommendation.'))
    const [answered] = ofType(events, 'recommendation.answered')
    expect(answered?.time).toBe('2026-04-04T08:17:00Z')
    const after = said.slice(said.findIndex(one => one.type === 'recommendation.answered') + 1)
    expect(after[0]?.time).toBe('2026-04-06T07:32:00Z')
    expect(after[0]?.data).toMatchObject({ answer: 'none', reason: expect.stringContaining('spare part on order') })
  })

  it('rising urgency speaks in spite of a deferral and names it', () => {
    const register = smallRegister(['FE1'])
    const { events } = sameByAnyClock({
      register,
      seed: 47,
      days: 8,
      // Reads low where low is worse, more each day from the fourth.
      error: (_analyzer, atMs) => (atMs < at(1) ? 0 : atMs < at(4) ? -0.05 : -0.25),
      also: [
        prompt(
          at(3, 20),
          respond('FE1-A', 1, at(3, 20), 'deferred', { until: formatInstant(at(20)), reason: 'crew away' }),
        ),
      ],
    })
    const escalated = ofType(events, 'recommendation.escalated').filter(one => Date.parse(one.time) > at(3, 20))
    expect(escalated.at(-1)?.data).toMatchObject({ urgency: 'now', notify: 'at_once' })
    expect(escalated[0]?.data).toMatchObject({
      answer: 'none',
      reason: expect.stringMatching(/despite the deferral until 21 Apr 2026.*crew away/),
    })
    expect(Date.parse(escalated[0]?.time ?? '')).toBeGreaterThan(at(4))
    expect(ofType(events, 'recommendation.revised').filter(one => one.data.answer === 'deferred')).toEqual([])
  })

  it('a rejection holds a fortnight where nothing new comes up', () => {
    const register = smallRegister(['FE1', 'SW'])
    const { events } = sameByAnyClock({
      register,
      seed: 48,
      days: 15.6,
      grabsPerDay: 1,
      sends: (analyzer, atMs) => analyzer !== 'FE1-A' || atMs < at(0, 10),
      also: [prompt(at(1, 12, 5), respond('FE1-A', 1, at(1, 12, 5), 'rejected', { reason: 'out of use this month' }))],
    })
    const said = events.filter(one => one.type.startsWith('recommendation.'))
    expect(said.map(one => [one.type, one.time])).toEqual([
      ['recommendation.opened', '2026-04-02T10:02:00Z'],
      ['recommendation.answered', '2026-04-02T12:17:00Z'],
      ['recommendation.reopened', '2026-04-16T12:17:00Z'],
    ])
  })

  it('a rejection yields at once to a bias half a tolerance larger', () => {
    const register = smallRegister(['FE1'])
    const { events } = sameByAnyClock({
      register,
      seed: 49,
      days: 9,
      error: (_analyzer, atMs) => (atMs < at(1, 6) ? 0 : atMs < at(6) ? 0.1 : 0.3),
      also: [prompt(at(4, 1, 5), respond('FE1-A', 1, at(4, 1, 5), 'rejected', { reason: 'known, accepted' }))],
    })
    const reopened = ofType(events, 'recommendation.reopened')
    expect(reopened).toHaveLength(1)
    expect(Date.parse(reopened[0]?.time ?? '')).toBeGreaterThan(at(6))
    expect(Date.parse(reopened[0]?.time ?? '')).toBeLessThan(at(8))
  })
})

/** Plays a stream by each clock and holds the events equal. */
function sameByAnyClock(plan: StreamPlan): Run {
  const sent: readonly Sent[] = makeStream(plan)
  const runs = CLOCKS.map(everyMs =>
    run(messagesOf(withTicks(sent, everyMs)), { register: plan.register, ticks: 'recorded' }),
  )
  const [live, hourly] = runs
  if (live === undefined || hourly === undefined) throw new Error('two clocks were asked for')
  expect(storyOf(hourly.events)).toEqual(storyOf(live.events))
  expect(textOf(hourly.events) === textOf(live.events)).toBe(true)
  // What follows the end of the stream is the silence of the stream.
  const endMs = at(plan.days)
  return { ...live, events: live.events.filter(event => Date.parse(event.time) <= endMs) }
}
