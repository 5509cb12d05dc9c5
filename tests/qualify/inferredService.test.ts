import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { HOUR_MS } from '../../src/model/time.js'
import { advanceInferred, newInferredService, type UnitLevel } from '../../src/qualify/inferredService.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { START_MS } from '../model/plantFixture.js'

const TOLERANCE = { absoluteNtu: 0.05, relative: 0.1 }
const USUAL = 0.05
/** Hours of usual water before anything happens. */
const QUIET = 48
const BLOCKS_AN_HOUR = HOUR_MS / BLOCK_MS
const SEEDS = { seed: 19, numRuns: 200 } as const

interface Held {
  /** Hours after the quiet days at whose end a block was held. */
  readonly hours: readonly number[]
  readonly state: ReturnType<typeof newInferredService>
}

/** Runs the gate over quiet days and then what the units show, by hour. */
function run(units: number, hours: number, show: (hour: number, unit: number) => UnitLevel): Held {
  const state = newInferredService(units)
  const found: number[] = []
  for (let k = 1; k <= (QUIET + hours) * BLOCKS_AN_HOUR; k++) {
    const hour = k / BLOCKS_AN_HOUR - QUIET
    const levels = Array.from({ length: units }, (_, unit) => (hour <= 0 ? flowing(USUAL) : show(hour, unit)))
    if (advanceInferred(state, levels, TOLERANCE, START_MS + k * BLOCK_MS)) found.push(hour)
  }
  return { hours: found, state }
}

const flowing = (ntu: number): UnitLevel => ({ countedNtu: ntu, noFlowNtu: null })
const still = (ntu: number): UnitLevel => ({ countedNtu: null, noFlowNtu: ntu })

/** Ripening: to its peak within a block, down within so many hours. */
const ripening = (hour: number, peakNtu: number, fallH: number): number =>
  hour < fallH ? USUAL + (peakNtu - USUAL) * (1 - hour / fallH) : USUAL

describe('service inferred from the readings', () => {
  it('scenario S19: holds a ripening peak of 0.9 NTU until an hour after it has fallen back', () => {
    const { hours, state } = run(1, 12, hour => flowing(ripening(hour - 0.25, 0.9, 50 / 60)))
    expect(hours[0]).toBe(0.25)
    expect(hours.at(-1)).toBeGreaterThanOrEqual(1.75)
    expect(hours.at(-1)).toBeLessThanOrEqual(2.25)
    expect(state.past).toMatchObject([{ shape: 'restart', fellBack: true }])
  })

  it('holds a climb while no sample flows, and not a fall', () => {
    const climb = run(1, 48, hour => still(USUAL + 0.01 * hour))
    expect(climb.state.hold?.shape).toBe('rest')
    expect(climb.hours[0]).toBeLessThanOrEqual(8)
    expect(run(1, 48, hour => still(Math.max(0.02, USUAL - 0.005 * hour))).hours).toEqual([])
  })

  it('needs every unit of the point that can be looked at', () => {
    const one = run(2, 12, (hour, unit) => flowing(unit === 0 ? ripening(hour, 0.9, 1) : USUAL))
    expect(one.hours).toEqual([])
    expect(run(2, 12, hour => flowing(ripening(hour, 0.9, 1))).hours).not.toEqual([])
    const other = run(2, 12, (hour, unit) =>
      unit === 0 ? flowing(ripening(hour, 0.9, 1)) : { countedNtu: null, noFlowNtu: null },
    )
    expect(other.hours).not.toEqual([])
  })

  it('infers nothing of turbid water, nor before a usual level is known', () => {
    const state = newInferredService(1)
    for (let k = 1; k < 400; k++)
      expect(advanceInferred(state, [flowing(k % 40 < 4 ? 90 : 20)], TOLERANCE, START_MS + k * BLOCK_MS)).toBe(false)
    const young = newInferredService(1)
    for (let k = 1; k < 20; k++)
      expect(advanceInferred(young, [flowing(k === 12 ? 0.9 : USUAL)], TOLERANCE, START_MS + k * BLOCK_MS)).toBe(false)
  })

  it('property: a step of any size is held for two hours at the most, and once only', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.01, max: 5, noNaN: true }),
        fc.integer({ min: 0, max: 1_000 }),
        (stepNtu, dice) => {
          const { hours } = run(1, 60, hour => flowing(USUAL + stepNtu + 0.002 * Math.sin(dice + 7 * hour)))
          expect(hours.length).toBeLessThanOrEqual(2 * BLOCKS_AN_HOUR)
          if (hours.length > 0) expect(hours.at(-1)! - hours[0]!).toBe((hours.length - 1) / BLOCKS_AN_HOUR)
        },
      ),
      SEEDS,
    )
  })

  it('property: no climb of up to two tolerances an hour is ever held: drift, film or a slow storm', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -0.09, max: 0.09, noNaN: true }),
        fc.integer({ min: 1, max: 72 }),
        (ntuPerHour, hours) => {
          const { hours: held } = run(1, 96, hour => flowing(USUAL + ntuPerHour * Math.min(hour, hours)))
          expect(held).toEqual([])
        },
      ),
      SEEDS,
    )
  })

  it('property: a restart is held while it stands above usual, and a bounded time after', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.35, max: 2, noNaN: true }),
        fc.double({ min: 0.5, max: 1.9, noNaN: true }),
        (peakNtu, fallH) => {
          const { hours, state } = run(1, 12, hour => flowing(ripening(hour - 0.25, peakNtu, fallH)))
          expect(state.past.map(one => one.fellBack)).toEqual([true])
          expect(hours[0]).toBe(0.25)
          expect(hours.at(-1)!).toBeLessThanOrEqual(0.25 + fallH + 1 + 0.5)
          expect(hours).toHaveLength(Math.round((hours.at(-1)! - 0.25) * BLOCKS_AN_HOUR) + 1)
        },
      ),
      SEEDS,
    )
  })

  it('property: whatever comes, its state stays small, plain JSON, and the same from there on', () => {
    const level = fc.oneof(
      fc.constant({ countedNtu: null, noFlowNtu: null }),
      fc.double({ min: -0.1, max: 10, noNaN: true }).map(flowing),
      fc.double({ min: -0.1, max: 10, noNaN: true }).map(still),
    )
    fc.assert(
      fc.property(fc.array(level, { minLength: 40, maxLength: 120 }), levels => {
        const state = newInferredService(1)
        let copy = newInferredService(1)
        levels.forEach((one, k) => {
          const atMs = START_MS + k * BLOCK_MS
          const held = advanceInferred(state, [one], TOLERANCE, atMs)
          expect(advanceInferred(copy, [one], TOLERANCE, atMs)).toBe(held)
          copy = JSON.parse(JSON.stringify(copy)) as typeof copy
        })
        expect(copy).toEqual(JSON.parse(JSON.stringify(state)))
        expect(JSON.stringify(state).length).toBeLessThan(2_500)
      }),
      SEEDS,
    )
  })
})
