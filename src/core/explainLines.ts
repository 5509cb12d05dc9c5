import { pairResidualNtu } from '../compare/pair.js'
import { sharedOffset } from '../compare/laboratoryOffset.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { REACH_MS } from './advance.js'
import type { PointContext } from './context.js'
import { evidenceData, sayGrabs } from './evidenceData.js'
import type { GrabView, LineRow, LineView } from './explanation.js'
import type { PointState, UnitFold } from './pointState.js'

/** The line of the grab samples, with its chart since the last adjustment. */
export function grabLine(context: PointContext, point: PointState, unit: UnitFold, i: number): LineView {
  const evidence = evidenceData(context, point, i).find(one => one.line === 'grab')
  const offsetNtu = sharedOffset(point.fold.units.map(one => one.offset)).ntu
  const rows = point.pairs.flatMap((pair): LineRow[] => {
    const paired = pair.units[i]
    if (pair.use !== 'used' || paired == null || paired.limit === 0) return []
    return [
      {
        atMs: pair.atMs,
        ofTolerance: roundTo(pairResidualNtu(pair, paired, offsetNtu) / paired.toleranceNtu, DIGITS.tolerances),
        uOfTolerance: roundTo(paired.uNtu / paired.toleranceNtu, DIGITS.tolerances),
        high: roundTo(paired.high, DIGITS.statistic),
        low: roundTo(paired.low, DIGITS.statistic),
        limit: roundTo(paired.limit, DIGITS.statistic),
      },
    ]
  })
  return {
    line: 'grab',
    against: sayGrabs(point, i),
    ...(rows.length === 0 ? { missing: noPairs(point) } : {}),
    delta0: context.plant.delta0,
    delta1: context.plant.delta1,
    ...(evidence === undefined ? {} : { evidence }),
    rows: rows.filter(row => row.atMs > unit.adjustedMs - REACH_MS),
  }
}

/** While another method's relation is learnt its samples are there and say nothing yet. */
function noPairs({ fold, pairs }: PointState): string {
  const learning = pairs.filter(pair => pair.use === 'learning_method').length
  return learning === 0 || fold.methodsDiffer === null
    ? 'no grab sample has been paired with it'
    : `${String(learning)} grab samples in ${fold.methodsDiffer.method}: their relation to the analyzer is being learnt, and only their change will count`
}

/** The lines of the other units at the point, seen from this one; one that says why where there is none. */
export function redundantViews(context: PointContext, point: PointState, i: number): LineView[] {
  const common = { line: 'redundant' as const, delta0: context.plant.delta0, delta1: context.plant.delta1 }
  if (context.lines.length === 0)
    return [{ ...common, against: 'a second unit', missing: 'no second unit stands at the point', rows: [] }]
  const evidence = evidenceData(context, point, i).filter(one => one.line === 'redundant')
  return context.lines.flatMap((named, k) => {
    if (named.against === 'others' && named.unit !== i) return []
    const sign = named.against === 'pair' && named.unit !== i ? -1 : 1
    const rows = point.differences.flatMap((difference): LineRow[] => {
      const value = difference.lines[k]
      if (value == null) return []
      const high = roundTo(value.high, DIGITS.statistic)
      const low = roundTo(value.low, DIGITS.statistic)
      return [
        {
          atMs: difference.atMs,
          ofTolerance: roundTo(sign * value.ofTolerance, DIGITS.tolerances),
          uOfTolerance: roundTo(value.uOfTolerance, DIGITS.tolerances),
          high: sign === 1 ? high : low,
          low: sign === 1 ? low : high,
          limit: roundTo(value.limit, DIGITS.statistic),
        },
      ]
    })
    const own = evidence[0]
    return [
      {
        ...common,
        against: context.point.analyzers.filter((_, other) => other !== i).join(' and '),
        ...(rows.length === 0 ? { missing: 'the units have not been comparable for six hours yet' } : {}),
        ...(own === undefined ? {} : { evidence: own }),
        rows,
      },
    ]
  })
}

/** Every grab sample of the point beside the reading of the analyzer. */
export function grabViews(point: PointState, i: number): GrabView[] {
  return point.pairs.map(pair => {
    const paired = pair.units[i]
    return {
      atMs: pair.atMs,
      grabNtu: roundTo(pair.grabNtu, DIGITS.ntu),
      uNtu: roundTo(paired?.uNtu ?? 0, DIGITS.ntu),
      analyzerNtu: paired == null ? undefined : roundTo(paired.ntu, DIGITS.ntu),
      sampleId: pair.sampleId ?? undefined,
      use: pair.use,
    }
  })
}
