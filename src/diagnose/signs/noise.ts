import { DAY_MS } from '../../model/time.js'
import { kept } from '../../model/rounding.js'
import { median } from '../../statistics/robust.js'
import type { SignOf } from './sign.js'

/** Mean spread of the readings inside a block, by UTC day, newest last. Plain data. */
export interface NoiseState {
  days: readonly NoisyDay[]
}

interface NoisyDay {
  readonly dayMs: number
  readonly meanNtu: number
  readonly n: number
}

export function newNoiseState(): NoiseState {
  return { days: [] }
}

const KEPT_DAYS = 35

export function takeNoise(state: NoiseState, endMs: number, sigmaNtu: number): void {
  const dayMs = Math.floor((endMs - 1) / DAY_MS) * DAY_MS
  const last = state.days.at(-1)
  if (last?.dayMs !== dayMs) {
    state.days = [...state.days.slice(-(KEPT_DAYS - 1)), { dayMs, meanNtu: kept(sigmaNtu), n: 1 }]
    return
  }
  const n = last.n + 1
  state.days = [...state.days.slice(0, -1), { dayMs, n, meanNtu: kept(last.meanNtu + (sigmaNtu - last.meanNtu) / n) }]
}

/** Days that make a habit, and newest days that are held against it. */
const HABIT_DAYS = 7
const NEWEST_DAYS = 3
const NOISY = 1.5

/**
 * Noise over its habit. A drift of zero leaves the noise as it was; water or dirt on the optics, bubbles and a failing
 * light source do not. @param sinceMs last adjustment
 */
export function noiseSign({ days }: NoiseState, sinceMs: number): SignOf<'noisy'> | undefined {
  const known = days.filter(({ dayMs }) => dayMs > sinceMs)
  if (known.length < HABIT_DAYS + NEWEST_DAYS) return undefined
  const habit = median(known.slice(0, HABIT_DAYS).map(({ meanNtu }) => meanNtu))
  const now = median(known.slice(-NEWEST_DAYS).map(({ meanNtu }) => meanNtu))
  return habit > 0 && now >= NOISY * habit ? { kind: 'noisy', ratio: kept(now / habit) } : undefined
}
