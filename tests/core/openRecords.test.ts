import { describe, expect, it } from 'vitest'
import { dueTick, LONGEST_JUMP_MS } from '../../src/core/eventClock.js'
import { createPlantState } from '../../src/core/step.js'
import type { RegisterFile } from '../../src/model/register.js'
import { DAY_MS, MINUTE_MS } from '../../src/model/time.js'
import { ofType, run } from './support/run.js'

// What records of rivers in the open taught: each of these once went wrong there.

const START_MS = Date.parse('2015-08-20T00:00:00Z')

/** Readings each quarter of an hour; on the third day nothing was recorded. */
function readings(analyzer: string) {
  return Array.from({ length: 4 * 96 }, (_, i) => {
    const time = new Date(START_MS + i * 15 * MINUTE_MS).toISOString()
    return { kind: 'reading', analyzer, time, value: 2 + ((i * 7) % 11) / 50, unit: 'NTU' }
  }).filter((_, i) => Math.floor(i / 96) !== 2)
}

function registerOf(point: string, analyzer: string): RegisterFile {
  return {
    plant: 'river',
    points: {
      [point]: {
        tolerance: { absoluteNtu: 1, relative: 0.1 },
        analyzers: { [analyzer]: { unit: 'NTU', intervalS: 900 } },
      },
    },
  }
}

describe('records from the open', () => {
  it('a hole of three years is crossed in ticks that are taken', () => {
    const state = createPlantState('river')
    const toMs = START_MS + 1_100 * DAY_MS
    Object.assign(state, { plantMs: START_MS, clock: { recentMs: Array<number>(5).fill(toMs), tickMs: START_MS } })
    const jumps: number[] = []
    for (let due = dueTick(state); due !== undefined; due = dueTick(state)) {
      jumps.push((Date.parse(due.time) - state.plantMs) / DAY_MS)
      state.plantMs = Date.parse(due.time)
    }
    expect(jumps).toEqual([400, 400, 300])
    expect(LONGEST_JUMP_MS).toBe(400 * DAY_MS)
  })

  it('a point with the name of its analyzer does not end the findings of that analyzer', () => {
    const findings = (point: string) =>
      ofType(
        run(readings('RIVER'), { register: registerOf(point, 'RIVER'), ticks: 'event' }).events,
        'analyzer.finding',
      ).map(event => `${event.time} ${event.data.finding} ${event.data.phase}`)
    expect(findings('RIVER')).toEqual(findings('BRIDGE'))
    expect(findings('RIVER')).toHaveLength(2)
  })
})
