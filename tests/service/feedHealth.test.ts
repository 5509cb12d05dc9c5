import { describe, expect, it } from 'vitest'
import { startClockTicks } from '../../src/service/clockTicks.js'
import { createFeedHealth } from '../../src/service/feedHealth.js'
import { manualSchedule } from './manualSchedule.js'

const MINUTE = 60_000
const NOW = Date.UTC(2026, 3, 1, 12)

describe('feed health', () => {
  it('holds a feed for down until it connects, and for catching up until something fresh came', () => {
    const health = createFeedHealth(['site', 'laboratory'])
    expect(health.notLive(NOW)).toEqual(['laboratory', 'site'])
    health.connected('site', NOW)
    health.heard('site', NOW - 3 * 60 * MINUTE, NOW + MINUTE)
    expect(health.notLive(NOW + MINUTE)).toEqual(['laboratory', 'site'])
    health.heard('site', NOW, NOW + MINUTE)
    expect(health.notLive(NOW + MINUTE)).toEqual(['laboratory'])
    health.disconnected('site')
    expect(health.notLive(NOW + MINUTE)).toEqual(['laboratory', 'site'])
  })

  it('does not let a feed that sends nothing excuse its analyzers for ever', () => {
    const health = createFeedHealth(['site'])
    health.connected('site', NOW)
    expect(health.notLive(NOW + 9 * MINUTE)).toEqual(['site'])
    expect(health.notLive(NOW + 10 * MINUTE)).toEqual([])
  })
})

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
})
