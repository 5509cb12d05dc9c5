import type { Line } from '../model/vocabulary.js'
import type { PointContext } from './context.js'
import { evidenceData } from './evidenceData.js'
import type { LineView } from './explanation.js'
import type { PointState, UnitFold } from './pointState.js'

/** The lines without a chart, each with what it says or why it says nothing. */
export function otherLines(context: PointContext, point: PointState, unit: UnitFold, i: number): LineView[] {
  const evidence = evidenceData(context, point, i)
  const view = (line: Line, against: string, missing: string): LineView => {
    const own = evidence.find(one => one.line === line)
    return {
      line,
      against: own?.against ?? against,
      ...(own === undefined || own.n === 0 ? { missing } : {}),
      delta0: context.plant.delta0,
      delta1: context.plant.delta1,
      ...(own === undefined || own.n === 0 ? {} : { evidence: own }),
      rows: [],
    }
  }
  return [
    view('verification', 'references', verificationMissing(unit)),
    view('related', 'points upstream', slowMissing(context, point, i, 'related')),
    view('clean_water_floor', 'its own cleanest water', slowMissing(context, point, i, 'clean_water_floor')),
    view('diagnostics', 'its own habit', diagnosticsMissing(point, i)),
  ]
}

function verificationMissing({ verifications, adjustedMs }: UnitFold): string {
  const leftOut = verifications.filter(one => one.atMs > adjustedMs && one.use !== 'used').length
  const since = adjustedMs > 0 ? 'since the last adjustment' : 'on record'
  return leftOut === 0
    ? `no as found on a reference ${since}`
    : `${String(leftOut)} as found ${since}, ${leftOut === 1 ? 'its reference is' : 'their references are'} contradicted or not assigned`
}

function slowMissing(
  context: PointContext,
  point: PointState,
  i: number,
  line: 'related' | 'clean_water_floor',
): string {
  const isDownstream = context.plant.related.some(one => one.downstream === context.point.id)
  if (line === 'related' && !isDownstream) return 'the register names no points that flow into this one'
  const slow = (point.slow[i] ?? []).find(one => one.line === line)
  return slow?.missing ?? 'no day has closed yet'
}

function diagnosticsMissing(point: PointState, i: number): string {
  const reportsLight = (point.analyzers[i]?.lightDays.length ?? 0) > 0
  return `nothing stands out in ${reportsLight ? 'light source, ' : ''}noise and backwashes${reportsLight ? '' : '; a light source level is not reported'}`
}
