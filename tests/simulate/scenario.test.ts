import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY_MS, HOUR_MS } from '../../src/model/time.js'
import { drawBackwashes } from '../../src/simulate/filterRuns.js'
import { drawScenario } from '../../src/simulate/scenario.js'

const START_MS = Date.UTC(2026, 3, 1)
const END_MS = START_MS + 60 * DAY_MS

describe('drawScenario', () => {
  it('keeps its structure for every seed', () => {
    fc.assert(
      fc.property(fc.maxSafeInteger(), seed => {
        const backwashes = drawBackwashes(seed, START_MS, END_MS)
        const s = drawScenario(seed, START_MS, backwashes)
        const fe2 = backwashes.filter(wash => wash.filter === 'FE2')

        expect(s.zeroRise.onsetMs).toBeLessThan(s.zeroRise.cleanedMs)
        expect(s.zeroRise.zeroMs - s.zeroRise.cleanedMs).toBeGreaterThan(2 * DAY_MS)
        expect(s.spanStep.halfDoneMs - s.spanStep.onsetMs).toBeGreaterThan(5 * DAY_MS)
        expect(s.spanStep.properMs - s.spanStep.halfDoneMs).toBeGreaterThan(9 * DAY_MS)
        expect(s.turbidZero.rezeroMs - s.turbidZero.zeroMs).toBeGreaterThan(9 * DAY_MS)
        const bubbleDays = (s.bubbles.flushedMs - s.bubbles.onsetMs) / DAY_MS
        expect([5, 6]).toContain(bubbleDays)
        expect(s.stuck.endMs - s.stuck.onsetMs).toBe(28 * HOUR_MS)
        expect(fe2.some(wash => wash.startMs > s.stuck.onsetMs && wash.inServiceMs < s.stuck.endMs)).toBe(true)
        // The laboratory's days hide nothing: every bias fault is over four days before, and none begins in them.
        const works = [
          s.zeroFall.zeroMs,
          s.zeroRise.zeroMs,
          s.fouling.cleanedMs,
          s.ageing.replacedMs,
          s.turbidZero.rezeroMs,
          s.spanStep.properMs,
        ]
        expect(Math.max(...works)).toBeLessThan(s.laboratory.onsetMs - 4 * DAY_MS)
        expect(s.badGrab.notBeforeMs).toBeLessThan(s.laboratory.onsetMs - 4 * DAY_MS)
        expect(s.laboratory.endMs - s.laboratory.onsetMs).toBe(6 * DAY_MS)
        expect(s.laboratory.endMs).toBeLessThan(END_MS - 7 * DAY_MS)
      }),
      { seed: 20260401, numRuns: 200 },
    )
  })

  it('washes each filter every 24 to 48 h', () => {
    const backwashes = drawBackwashes(11, START_MS, END_MS).filter(wash => wash.filter === 'FE4')
    const gapsH = backwashes.slice(1).map((wash, i) => (wash.startMs - backwashes[i]!.startMs) / HOUR_MS)
    expect(gapsH.length).toBeGreaterThan(29)
    expect(Math.min(...gapsH)).toBeGreaterThanOrEqual(24)
    expect(Math.max(...gapsH)).toBeLessThanOrEqual(48)
  })
})
