import { describe, expect, it } from 'vitest'
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../src/model/time.js'
import { type ClockTick, startClockTicks } from '../../src/service/clockTicks.js'
import { manualSchedule } from './manualSchedule.js'

const NOW = Date.UTC(2026, 3, 1, 12)

describe('clock ticks', () => {
  it('come at full minutes and list the feeds that are not live, the first also those nobody listened to', () => {
    const clock = manualSchedule()
    const ticks: unknown[] = []
    const down: string[][] = [['site'], []]
    const end = startClockTicks({
      now: () => NOW + 12_000 + clock.nowMs(),
      schedule: clock.schedule,
      feedsNotLive: () => down.shift()!,
      feedsMissed: ['laboratory'],
      feeds: ['laboratory', 'site'],
      jumped: () => {},
      tick: message => ticks.push(message),
    })
    clock.runNext()
    clock.runNext()
    end()
    expect(clock.runNext()).toBe(false)
    expect(ticks).toEqual([
      { kind: 'tick', time: '2026-04-01T12:01:00Z', feedsDown: ['laboratory', 'site'] },
      { kind: 'tick', time: '2026-04-01T12:02:00Z' },
    ])
  })

  it.each([
    ['forward by three hours', 3 * HOUR_MS, ['2026-04-01T15:02:00Z', '2026-04-01T15:03:00Z']],
    ['forward by 500 days', 500 * DAY_MS, ['2027-08-14T12:02:00Z', '2027-08-14T12:03:00Z']],
    ['back by an hour', -HOUR_MS, ['2026-04-01T11:02:00Z', '2026-04-01T11:03:00Z']],
    ['back by a day', -DAY_MS, ['2026-03-31T12:02:00Z', '2026-03-31T12:03:00Z']],
  ])('go on where the clock jumps %s, and tell it once', (_what, jumpMs, times) => {
    const run = start()
    run.clock.runNext()
    run.jump(jumpMs)
    run.clock.runNext()
    run.clock.runNext()
    expect(run.jumps).toEqual([jumpMs])
    expect(run.ticks.map(tick => tick.time)).toEqual(['2026-04-01T12:01:00Z', ...times])
    // In time that was skipped nobody was heard; time that comes twice was heard the first time.
    expect(run.ticks.map(tick => tick.feedsDown)).toEqual([undefined, jumpMs > 0 ? ['site'] : undefined, undefined])
  })

  it('take a late timer of a busy machine for no jump', () => {
    const run = start()
    run.clock.runNext()
    run.jump(MINUTE_MS)
    run.clock.runNext()
    expect(run.jumps).toEqual([])
    expect(run.ticks.map(tick => tick.feedsDown)).toEqual([undefined, undefined])
  })
})

function start() {
  const clock = manualSchedule()
  const ticks: ClockTick[] = []
  const jumps: number[] = []
  let aheadMs = 0
  startClockTicks({
    now: () => NOW + clock.nowMs() + aheadMs,
    schedule: clock.schedule,
    feedsNotLive: () => [],
    feedsMissed: [],
    feeds: ['site'],
    jumped: byMs => jumps.push(byMs),
    tick: message => ticks.push(message),
  })
  return { clock, ticks, jumps, jump: (byMs: number) => void (aheadMs += byMs) }
}
