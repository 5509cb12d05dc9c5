import { describe, expect, test } from 'vitest'
import { HOUR_MS } from '../../../src/model/time.js'
import { holdsEverywhere } from '../support/holdsEverywhere.js'
import { type Moment, runScenario } from '../support/scenario.js'

const TIDE_H = 12.42

/** Between 6 and 30 NTU with each tide, a little more at springs: as at the mouth of a river. */
function tide({ atMs, day }: Moment): number {
  const phase = (atMs / HOUR_MS / TIDE_H) * 2 * Math.PI
  const springs = 1 + 0.15 * Math.sin((day / 14.8) * 2 * Math.PI)
  return 13.4 * Math.exp(0.805 * springs * Math.sin(phase))
}

/** The level goes up and down fivefold twice a day for five weeks. Nothing is wrong with either unit. */
const said = runScenario({
  id: 'tideSwingsFivefold',
  title: 'A tide that swings the level fivefold twice a day',
  from: '2026-05-01',
  days: 35,
  points: { RW: { water: tide, grabs: { at: ['08:00'] } } },
})

describe('a tide that swings the level fivefold twice a day', () => {
  test('must not say: anything to be done', () => {
    expect(said.requests()).toEqual([])
  })
  test('must not say: bubbles, jumps, a stuck signal, a rest', () => {
    const found = new Set(said.findings().map(event => event.data.finding))
    expect([...found].filter(finding => finding !== 'process_change')).toEqual([])
  })
  test('may say that the level changed for the first days, until it has seen the tide', () => {
    const changes = said.findings('process_change').map(event => Date.parse(event.time))
    expect(changes.filter(atMs => atMs > Date.parse('2026-05-06T00:00:00Z'))).toEqual([])
  })
  test('must not say: doubtful', () => {
    const told = said.ofType('analyzer.status').map(event => event.data.assessment)
    expect(told).not.toContain('doubtful')
    expect(told).not.toContain('signal_fault')
  })
  test('must say: consistent, for the two units agree', () => {
    for (const unit of ['RW-A', 'RW-B']) expect(said.status(unit).assessment).toBe('consistent')
  })
  holdsEverywhere(said)
})
