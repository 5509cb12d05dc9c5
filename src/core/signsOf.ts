import { daylightSign } from '../diagnose/signs/daylight.js'
import { displaySign } from '../diagnose/signs/display.js'
import { factorSign } from '../diagnose/signs/exactFactor.js'
import { filmLevelsSign } from '../diagnose/signs/filmLevels.js'
import { lagSign } from '../diagnose/signs/lag.js'
import { lightSign } from '../diagnose/signs/lightSource.js'
import { noiseSign } from '../diagnose/signs/noise.js'
import { returnsSign } from '../diagnose/signs/returns.js'
import { errorSeries } from '../diagnose/signs/series.js'
import type { Sign, SignOf } from '../diagnose/signs/sign.js'
import { washedOffSign } from '../diagnose/signs/washedOff.js'
import { toleranceAt } from '../model/tolerance.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'
import { uncoveredSign } from './uncovered.js'

/** Everything seen at a unit that speaks for one cause of an error and not for others. */
export function signsOf(context: PointContext, state: PointState, unit: UnitFold, i: number, endMs: number): Sign[] {
  const values = errorSeries(state.pairs, state.differences, context.analyzers.length, i)
  const since = unit.estimate?.onset?.estimateMs ?? 0
  const signs: (Sign | undefined)[] = [
    displaySign(unit.signs.display),
    factorSign(unit.signs.factor),
    daylightSign(unit.signs.daylight, lastVisit(unit), toleranceOf(context, unit, i)),
    returnsSign(
      values.filter(({ atMs }) => atMs > unit.adjustedMs),
      unit.cleaningsMs.filter(atMs => atMs > unit.adjustedMs),
      unit.signs.noise,
      toleranceOf(context, unit, i),
      endMs,
    ),
    filmLevelsSign(values.filter(({ atMs }) => atMs >= Math.max(since, unit.adjustedMs))),
    lagSign(unit.signs.lag, toleranceOf(context, unit, i)),
    // Days lie outside the fold: one that is folded again must not see what came after it.
    lightSign(
      (state.analyzers[i]?.lightDays ?? []).filter(day => day.dayMs < endMs),
      unit.adjustedMs,
    ),
    noiseSign(unit.signs.noise, unit.adjustedMs),
    washedOffSign(
      values,
      state.fold.returnsMs.filter(atMs => atMs > Math.max(since, unit.adjustedMs)),
    ),
    ...estimateSigns(context, unit, i),
  ]
  return signs.filter(sign => sign !== undefined)
}

/** Signs that need to know how large the error is. */
function estimateSigns(context: PointContext, unit: UnitFold, i: number): (Sign | undefined)[] {
  const { estimate } = unit
  const analyzer = context.analyzers[i]
  if (estimate === null || analyzer === undefined) return []
  const biasNtu = estimate.biasNtu.value
  return [
    oneLine(context, estimate.who.all),
    estimate.levelNtu >= NEAR_END * analyzer.rangeNtu[1]
      ? { kind: 'near_range_end', rangeNtu: analyzer.rangeNtu[1] }
      : undefined,
    unit.findings.bubbles !== undefined && biasNtu > 0 ? { kind: 'bubbles' } : undefined,
    darkResponse(unit, biasNtu, estimate.toleranceNtu),
    standardSuspect(unit),
    uncoveredSign(unit),
  ]
}

/** Share of the range from which on the level stands near its end. */
const NEAR_END = 0.9

function toleranceOf({ analyzers, point }: PointContext, { levelNtu }: UnitFold, i: number): number {
  return toleranceAt(analyzers[i]?.tolerance ?? point.tolerance, levelNtu ?? 0)
}

function lastVisit({ works }: UnitFold): number | null {
  return works.at(-1)?.atMs ?? null
}

function oneLine({ analyzers }: PointContext, pAll: number): SignOf<'one_line'> | undefined {
  const line = analyzers[0]?.sampleLine
  const isShared =
    analyzers.length > 1 && line !== undefined && analyzers.every(({ sampleLine }) => sampleLine === line)
  return isShared && pAll >= 0.5 ? { kind: 'one_line', sampleLine: line } : undefined
}

/** Read with the light off since the last adjustment: so small that the error is not in the electronics. */
function darkResponse(unit: UnitFold, biasNtu: number, toleranceNtu: number): SignOf<'dark_response'> | undefined {
  const dark = unit.verifications.findLast(
    ({ type, use, atMs }) => type === 'source_off' && use === 'used' && atMs > unit.adjustedMs,
  )
  if (dark === undefined || Math.abs(biasNtu) < toleranceNtu / 2) return undefined
  const ntu = dark.foundNtu - dark.assignedNtu
  return Math.abs(ntu) < Math.abs(biasNtu) / 4
    ? { kind: 'dark_response', atMs: dark.atMs, ntu, toleranceNtu }
    : undefined
}

/** The last adjustment was made on a reference that its own record speaks against. */
function standardSuspect({ verifications, adjustedMs }: UnitFold): SignOf<'standard_suspect'> | undefined {
  const last = verifications.findLast(({ atMs }) => atMs === adjustedMs)
  if (last?.use !== 'reference_contradicted' || last.type === 'zero_water') return undefined
  return { kind: 'standard_suspect', atMs: adjustedMs }
}
