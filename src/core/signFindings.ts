import { daylightSign } from '../diagnose/signs/daylight.js'
import { lagSign } from '../diagnose/signs/lag.js'
import { toleranceAt } from '../model/tolerance.js'
import type { FindingKind } from '../model/vocabulary.js'
import type { PointContext } from './context.js'
import type { UnitFold } from './pointState.js'

export type SignFinding = Extract<FindingKind, 'exact_factor' | 'display_differs' | 'follows_daylight' | 'comes_late'>

/** Share of the difference that being late must make for it to be a finding. */
const MOST_OF_IT = 0.7

/** Signs that are strong enough to stand by themselves as something true now, with since when; undefined where not so. */
export function signFindings(
  context: PointContext,
  unit: UnitFold,
  i: number,
  endMs: number,
): Readonly<Record<SignFinding, number | undefined>> {
  const { factor, display, daylight, lag } = unit.signs
  const toleranceNtu = toleranceAt(context.analyzers[i]?.tolerance ?? context.point.tolerance, unit.levelNtu ?? 0)
  const visitMs = unit.works.at(-1)?.atMs ?? null
  const light = visitMs === null ? undefined : daylightSign(daylight, visitMs, toleranceNtu)
  return {
    // Alone, only a grab sample or the display tells a factor from water that halved.
    exact_factor: factor.found?.borneOut === true ? factor.found.sinceMs : undefined,
    display_differs: display.noted?.differs === true ? display.noted.atMs : undefined,
    follows_daylight: light?.sinceMs,
    comes_late: (lagSign(lag, toleranceNtu)?.share ?? 0) >= MOST_OF_IT ? endMs : undefined,
  }
}
