import { daylightSign } from '../diagnose/signs/daylight.js'
import { toleranceAt } from '../model/tolerance.js'
import type { FindingKind } from '../model/vocabulary.js'
import type { PointContext } from './context.js'
import type { UnitFold } from './pointState.js'

/** Signs that are strong enough to stand by themselves as something true now, with since when; undefined where not so. */
export function signFindings(
  context: PointContext,
  unit: UnitFold,
  i: number,
): Readonly<Record<Extract<FindingKind, 'exact_factor' | 'display_differs' | 'follows_daylight'>, number | undefined>> {
  const { factor, display, daylight } = unit.signs
  const toleranceNtu = toleranceAt(context.analyzers[i]?.tolerance ?? context.point.tolerance, unit.levelNtu ?? 0)
  const visitMs = unit.works.at(-1)?.atMs ?? null
  const light = visitMs === null ? undefined : daylightSign(daylight, visitMs, toleranceNtu)
  return {
    // Alone, only a grab sample or the display tells a factor from water that halved.
    exact_factor: factor.found?.borneOut === true ? factor.found.sinceMs : undefined,
    display_differs: display.noted?.differs === true ? display.noted.atMs : undefined,
    follows_daylight: light?.sinceMs,
  }
}
