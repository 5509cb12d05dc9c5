import { describe, expect, it } from 'vitest'
import { createFeedHealth } from '../../src/service/feedHealth.js'

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
