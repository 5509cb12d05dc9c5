import { describe, expect, it } from 'vitest'
import { registerMessage } from '../../src/core/registerInput.js'
import { DAY_MS, HOUR_MS, MINUTE_MS, parseInstant } from '../../src/model/time.js'
import { startClockTicks } from '../../src/service/clockTicks.js'
import { PLANT_CORE } from '../../src/service/plantCore.js'
import { CLOCK_FEED, createPlantRunner } from '../../src/service/plantRunner.js'
import { smallRegister } from '../core/support/register.js'
import { makeStream, START_MS } from '../core/support/stream.js'
import { manualSchedule } from './manualSchedule.js'

/** FE1-A, CFE-A, CFE-B and SW-A, a reading a minute. */
const REGISTER = smallRegister(['FE1', 'CFE', 'SW'], {}, 60)
const SENT = makeStream({ register: REGISTER, seed: 28, days: 1 })

/**
 * A clock that is wrong for twenty minutes of a day in which all analyzers send, by clocks that are right. Nothing is
 * the matter with any of them, so none may be told of as silent. All together may, where the clock was so far ahead
 * that a whole block of its time passed without a reading: one finding, which asks for their common cause.
 */
describe('a plant whose clock jumps', () => {
  it('works as ever where it does not', () => {
    const { jumps, silent, plantMs, statuses } = runDay(() => 0)
    expect(jumps).toEqual([])
    expect(silent).toEqual([])
    expect(plantMs).toBe(START_MS + DAY_MS)
    expect(statuses).toBeGreaterThan(0)
  })

  it.each([
    ['three hours ahead', 3 * HOUR_MS, ['many_silent began', 'many_silent ended']],
    ['500 days ahead', 500 * DAY_MS, []],
    ['an hour behind', -HOUR_MS, []],
    ['a day behind', -DAY_MS, []],
  ])('tells that it is %s and that it is set right, and calls no analyzer silent', (_what, byMs, told) => {
    const isWrong = (realMs: number) => realMs >= START_MS + 10 * HOUR_MS && realMs < START_MS + 10 * HOUR_MS + WRONG_MS
    const run = runDay(realMs => (isWrong(realMs) ? byMs : 0))
    expect(run.jumps).toEqual([byMs, -byMs])
    expect(run.silent).toEqual(told)
    expect(run.plantMs).toBe(START_MS + DAY_MS)
    expect(run.wentBack).toBe(false)
    expect(run.statuses).toBeGreaterThan(0)
    // Each minute has its tick, whatever the clock says.
    expect(run.ticks).toBe(24 * 60)
  })

  it('takes nobody for silent where the machine slept for three hours', () => {
    const run = runDay(() => 0, { fromMs: START_MS + 10 * HOUR_MS, forMs: 3 * HOUR_MS })
    expect(run.jumps).toEqual([3 * HOUR_MS])
    expect(run.silent).toEqual([])
    expect(run.plantMs).toBe(START_MS + DAY_MS)
  })

  it('stands still, and says so once, where the clock is behind for good', () => {
    const run = runDay(realMs => (realMs >= START_MS + 10 * HOUR_MS ? -DAY_MS : 0))
    expect(run.jumps).toEqual([-DAY_MS])
    expect(run.silent).toEqual([])
    expect(run.plantMs).toBe(START_MS + 10 * HOUR_MS - MINUTE_MS)
    expect(run.ticks).toBe(24 * 60)
  })
})

const WRONG_MS = 20 * MINUTE_MS

/**
 * A day of a plant under a clock.
 * @param errorMs how far the clock is ahead at a true time  @param sleep of the machine: it hears nothing, no timer runs
 */
function runDay(errorMs: (realMs: number) => number, sleep?: { readonly fromMs: number; readonly forMs: number }) {
  const timers = manualSchedule()
  let sleptMs = 0
  const realMs = () => START_MS + timers.nowMs() + sleptMs
  const clockMs = () => realMs() + errorMs(realMs())
  const runner = createPlantRunner(PLANT_CORE.create(REGISTER.plant), {
    core: PLANT_CORE,
    ticks: 'recorded',
    lastSeq: 0,
    prefix: 'turbidrift',
    softwareVersion: '0.0.0',
  })
  const jumps: number[] = []
  const silent: string[] = []
  let [newestMs, ticks, statuses, wentBack] = [0, 0, 0, false]
  const take = (feed: string, message: unknown): void => {
    const input = { feed, receivedAt: new Date(clockMs()).toISOString(), message }
    for (const { type, body } of runner.advance([input]).events) {
      const { time, data } = JSON.parse(body) as { time: string; data: { finding?: string; phase?: string } }
      const atMs = parseInstant(time)!
      wentBack ||= atMs < newestMs
      newestMs = atMs
      if (type === 'analyzer.status') statuses++
      if (data.finding?.endsWith('silent') === true) silent.push(`${data.finding} ${data.phase!}`)
    }
  }
  take('service', registerMessage(REGISTER))
  startClockTicks({
    now: clockMs,
    schedule: timers.schedule,
    feedsNotLive: () => [],
    feedsMissed: [],
    feeds: ['site'],
    jumped: byMs => jumps.push(byMs),
    tick: message => {
      ticks++
      take(CLOCK_FEED, message)
    },
  })
  const waiting = [...SENT].sort((a, b) => a.comesMs - b.comesMs)
  while (realMs() < START_MS + DAY_MS) {
    timers.runNext()
    while (waiting.length > 0 && waiting[0]!.comesMs <= realMs()) take('site', waiting.shift()!.message)
    if (sleep === undefined || sleptMs > 0 || realMs() < sleep.fromMs) continue
    sleptMs = sleep.forMs
    while (waiting.length > 0 && waiting[0]!.comesMs <= realMs()) waiting.shift()
  }
  const { plantMs } = JSON.parse(runner.serialise().get('plant')!) as { plantMs: number }
  return { jumps, silent, plantMs, ticks, statuses, wentBack }
}
