import { isName } from '../model/names.js'
import { LONGEST_INTERVAL_S, type RegisterFile } from '../model/register.js'
import { DAY_MS } from '../model/time.js'
import { methodOf } from '../model/units.js'
import { toName } from './csvHeader.js'
import type { Survey, SurveyedPoint } from './survey.js'

type DraftedPoint = RegisterFile['points'][string]

/**
 * A register that fits a record, with the default tolerance everywhere: to begin with, and to be corrected by people
 * who know the plant.
 * @param plant name, made a valid one where it is none
 */
export function draftRegister(survey: Survey, plant: string, timeZone: string): RegisterFile {
  const points: Record<string, DraftedPoint> = {}
  for (const id of [...survey.analyzers.keys()].sort()) {
    const { unit, intervalS } = survey.analyzers.get(id)!
    const named = pointOf(id, survey.points)
    const [first] = Object.values(points[named]?.analyzers ?? {})
    // Units of one point must share a method.
    const pointId =
      first === undefined || methodOf(first.unit) === methodOf(unit) ? named : `${named}-${methodOf(unit)}`
    const interval = intervalS()
    const point = (points[pointId] ??= draftPoint(survey.points.get(pointId)))
    point.analyzers[id] = {
      unit,
      ...(interval === undefined || interval < 1 ? {} : { intervalS: Math.min(LONGEST_INTERVAL_S, interval) }),
    }
  }
  return { plant: isName(plant) ? plant : toName(plant), timeZone, points }
}

/** FE3-A and FE3-B stand at FE3; the name of a point with grab samples goes first. */
function pointOf(analyzer: string, sampled: ReadonlyMap<string, SurveyedPoint>): string {
  const known = [...sampled.keys()]
    .filter(point => analyzer === point || (analyzer.startsWith(point) && /^[-_.]/.test(analyzer.slice(point.length))))
    .sort((a, b) => b.length - a.length)
  return known[0] ?? /^(.+)[-_.][A-Za-z0-9]$/.exec(analyzer)?.[1] ?? analyzer
}

function draftPoint(sampled: SurveyedPoint | undefined): DraftedPoint {
  if (sampled === undefined || sampled.grabs < 3) return { analyzers: {} }
  const perDay = (sampled.grabs - 1) / Math.max(1, (sampled.lastMs - sampled.firstMs) / DAY_MS)
  return { grab: { perDay: Math.min(96, Math.max(0.1, Math.round(perDay * 10) / 10)) }, analyzers: {} }
}
