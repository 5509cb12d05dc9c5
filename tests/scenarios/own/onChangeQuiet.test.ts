import { describe, expect, test } from 'vitest'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { runScenario } from '../support/scenario.js'

/** An analyzer that sends only changes of 0.004 NTU and more, and once an hour whatever it reads. */
const DEADBAND = 0.004
const HEARTBEAT_MIN = 60

/** What such a sender lets through of readings every minute. */
function onChange(): (shownNtu: number, atMs: number) => number | undefined {
  let sentNtu = Infinity
  let sentMs = 0
  return (shownNtu, atMs) => {
    if (Math.abs(shownNtu - sentNtu) < DEADBAND && atMs - sentMs < HEARTBEAT_MIN * 60_000) return undefined
    sentNtu = shownNtu
    sentMs = atMs
    return shownNtu
  }
}

const sent = onChange()
const said = runScenario({
  id: 'onChangeQuiet',
  title: 'On-change transmission is quiet, neither silent nor stuck',
  from: '2026-05-01',
  days: 14,
  intervalS: 60,
  points: { FE4: { water: 0.05, grabs: { at: ['08:20', '20:20'] } } },
  register: register => {
    const analyzer = register.points.FE4!.analyzers['FE4-A']!
    Object.assign(analyzer, { transmission: 'on_change', deadbandNtu: DEADBAND, heartbeatS: 60 * HEARTBEAT_MIN })
    register.points.FE4!.use = ['controlling']
  },
  analyzers: {
    'FE4-A': {
      noiseNtu: 0.0003,
      reads: (truthNtu, { day }) => truthNtu + (day > 8 ? 0.03 * (day - 8) : 0),
      // The last night the sender is cut off: after two heartbeats that is silence.
      arrives: (shown, { day, atMs }) => (day >= 13.5 ? undefined : sent(shown, atMs)),
    },
  },
})

describe('an analyzer that sends on change', () => {
  const silent = said.findings('silent')

  test('is neither silent nor stuck while its water is quiet', () => {
    expect(said.findings().filter(one => one.time < '2026-05-14T12:00:00Z')).toEqual([])
    const readings = said.explain('FE4-A').blocks.length
    expect(readings).toBeGreaterThan(10 * 96 - 60)
  })
  test('is compared with its grab samples by the value that holds', () => {
    expect(said.status('FE4-A', '2026-05-08T12:00:00Z').assessment).toBe('consistent')
    const used = said.explain('FE4-A').grabs.filter(one => one.use === 'used')
    expect(used.length).toBeGreaterThan(20)
  })
  test('a drift of it is found as that of any other', () => {
    expect(said.opened('FE4-A')[0]?.bias?.ntu).toBeGreaterThan(0.03)
    expect(said.opened('FE4-A')[0]?.openedAt.slice(0, 10) ?? '').toMatch(/2026-05-1[0-3]/)
  })
  test('is silent after two heartbeats without a word', () => {
    expect(silent.map(one => [one.data.phase, one.time.slice(0, 16)])).toEqual([['began', '2026-05-14T14:02']])
  })
  holdsEverywhere(said)
})
