import type { Interval, UnitEstimate } from '../../src/diagnose/estimate.js'
import { DAY_MS } from '../../src/model/time.js'

export const NOW_MS = Date.UTC(2026, 4, 19, 6)

const sharp = (value: number, half: number): Interval => ({ value, low: value - half, high: value + half })

export interface Stated {
  readonly biasNtu?: number
  readonly halfNtu?: number
  readonly levelNtu?: number
  readonly toleranceNtu?: number
  readonly kinds?: readonly [zero: number, span: number, fouling: number]
  readonly spanRel?: number
  readonly change?: Partial<UnitEstimate>
}

/** An estimate of a unit that is off by itself since 9 May 2026, as a table states it. */
export function estimate(stated: Stated = {}): UnitEstimate {
  const { biasNtu = 0.04, halfNtu = 0.012, levelNtu = 0.06, toleranceNtu = 0.05 } = stated
  const [zero, span, fouling] = stated.kinds ?? [0.95, 0.01, 0.04]
  return {
    atMs: NOW_MS,
    levelNtu,
    toleranceNtu,
    biasNtu: sharp(biasNtu, halfNtu),
    pHalf: 0.95,
    pPassesIn7Days: 0.3,
    pOutside: 0.05,
    who: { self: 0.97, all: 0, other: 0.01, laboratory: 0.01, nobody: 0.01 },
    kinds: { zero, span, fouling },
    pRamp: 0.4,
    model: { zeroNtu: sharp(biasNtu, halfNtu), spanRel: sharp(stated.spanRel ?? 0, 0.01) },
    onset: {
      estimateMs: NOW_MS - 10 * DAY_MS,
      beforeRecord: false,
      earliestMs: NOW_MS - 12 * DAY_MS,
      latestMs: NOW_MS - 8 * DAY_MS,
    },
    forecast: null,
    ...stated.change,
  }
}
