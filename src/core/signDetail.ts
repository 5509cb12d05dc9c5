import { daylightSign } from '../diagnose/signs/daylight.js'
import { lagSign } from '../diagnose/signs/lag.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { sayInstant } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { sayNtu } from '../recommend/summary.js'
import { sayFactor } from '../recommend/weighSigns.js'
import type { PointContext } from './context.js'
import type { FindingDetail } from './findingDetail.js'
import type { UnitFold } from './pointState.js'
import type { SignFinding } from './signFindings.js'

/** What there is to say of a sign that stands by itself; undefined where it is over. */
export function signDetail(
  finding: SignFinding,
  context: PointContext,
  unit: UnitFold,
  i: number,
): FindingDetail | undefined {
  const toleranceNtu = toleranceAt(context.analyzers[i]?.tolerance ?? context.point.tolerance, unit.levelNtu ?? 0)
  switch (finding) {
    case 'comes_late': {
      const late = lagSign(unit.signs.lag, toleranceNtu)
      if (late === undefined) return undefined
      const [minutes, sharePct] = [roundTo(late.minutes, 0), roundTo(100 * late.share, 0)]
      return {
        values: { minutes, sharePct },
        what: `it follows the other units about ${String(minutes)} min late, which makes ${String(sharePct)} % of their difference`,
      }
    }
    case 'exact_factor': {
      const { found } = unit.signs.factor
      if (found === null) return undefined
      return {
        values: {
          factor: roundTo(found.factor, 4),
          beforeNtu: roundTo(found.beforeNtu, DIGITS.ntu),
          afterNtu: roundTo(found.afterNtu, DIGITS.ntu),
        },
        what: `its values went at once from ${sayNtu(found.beforeNtu)} to ${sayNtu(found.afterNtu)} NTU, ${sayFactor(found.factor)}, on ${sayInstant(found.sinceMs)}`,
      }
    }
    case 'display_differs': {
      const { noted } = unit.signs.display
      if (noted === null) return undefined
      return {
        values: {
          displayedNtu: roundTo(noted.displayedNtu, DIGITS.ntu),
          recordedNtu: roundTo(noted.recordedNtu, DIGITS.ntu),
        },
        what: `its display showed ${sayNtu(noted.displayedNtu)} NTU on ${sayInstant(noted.atMs)} where ${sayNtu(noted.recordedNtu)} NTU was recorded`,
      }
    }
    case 'follows_daylight': {
      const light = daylightSign(unit.signs.daylight, unit.works.at(-1)?.atMs ?? null, toleranceNtu)
      if (light === undefined) return undefined
      return {
        values: {
          dayNtu: roundTo(light.dayNtu, DIGITS.ntu),
          nightNtu: roundTo(light.nightNtu, DIGITS.ntu),
          days: light.days,
        },
        what: `beside the other units it reads ${sayNtu(light.dayNtu)} NTU by day and ${sayNtu(light.nightNtu)} NTU by night since the visit of ${sayInstant(light.sinceMs)}`,
      }
    }
  }
}
