import { sharedOffset } from '../compare/laboratoryOffset.js'
import { pairResidualNtu } from '../compare/pair.js'
import { type Chart, leadingSide } from '../detect/chart.js'
import type { EvidenceData } from '../model/events.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant } from '../model/time.js'
import type { PointContext } from './context.js'
import { diagnosticEvidence } from './diagnosticEvidence.js'
import type { PointState } from './pointState.js'
import { slowEvidence } from './slowEvidence.js'
import { verificationEvidence } from './verificationEvidence.js'
import { mean } from '../statistics/mean.js'

const MOST_POINTS = 120
/** Newest values over which the mean of a line is shown. */
const MEAN_OF = 10

/** Each line that speaks about a unit, as it goes into an event. */
export function evidenceData(context: PointContext, state: PointState, i: number): EvidenceData[] {
  const unit = state.fold.units[i]
  return [
    ...grabEvidence(context, state, i),
    ...redundantEvidence(context, state, i),
    ...(unit === undefined ? [] : verificationEvidence(unit)),
    ...slowEvidence(state, i),
    ...diagnosticEvidence(context, state, i),
  ]
}

function grabEvidence(context: PointContext, state: PointState, i: number): EvidenceData[] {
  const unit = state.fold.units[i]
  if (unit === undefined) return []
  const offsetNtu = sharedOffset(state.fold.units.map(one => one.offset)).ntu
  const used = state.pairs.flatMap(pair => {
    const paired = pair.units[i]
    if (pair.use !== 'used' || paired == null || pair.atMs <= unit.adjustedMs) return []
    const residualNtu = pairResidualNtu(pair, paired, offsetNtu)
    return [
      {
        atMs: pair.atMs,
        residualNtu,
        uNtu: paired.uNtu,
        ofTolerance: residualNtu / paired.toleranceNtu,
        uOfTolerance: paired.uNtu / paired.toleranceNtu,
      },
    ]
  })
  if (used.length === 0) return []
  const latest = used.slice(-MEAN_OF)
  return [
    {
      line: 'grab',
      against: sayGrabs(state, i),
      n: used.length,
      chart: chartData(unit.grab.chart, context, 1),
      biasNtu: roundTo(mean(latest.map(one => one.residualNtu)), DIGITS.ntu),
      sigmaNtu: roundTo(mean(latest.map(one => one.uNtu)), DIGITS.ntu),
      excluded: { ...unit.pairsExcluded },
      points: used
        .slice(-MOST_POINTS)
        .map(one => [
          formatInstant(one.atMs),
          roundTo(one.ofTolerance, DIGITS.tolerances),
          roundTo(one.uOfTolerance, DIGITS.tolerances),
        ]),
    },
  ]
}

/** Samples that another method read say so, and that without a correlation only their change counts. */
export function sayGrabs(state: PointState, i: number): string {
  const byMethod = state.pairs.findLast(pair => pair.use === 'used' && pair.units[i] != null)?.byMethod
  if (byMethod === undefined) return 'grab samples'
  return `grab samples in ${byMethod.method}, ${byMethod.isDeclared ? 'by the site correlation' : 'change only'}`
}

function redundantEvidence(context: PointContext, state: PointState, i: number): EvidenceData[] {
  return context.lines.flatMap((named, k): EvidenceData[] => {
    const line = state.fold.lines[k]
    if (line === undefined || (named.against === 'others' && named.unit !== i)) return []
    const rows = state.differences.flatMap(difference => {
      const value = difference.lines[k]
      return value == null ? [] : [{ atMs: difference.atMs, value, toleranceNtu: difference.toleranceNtu }]
    })
    if (rows.length === 0) return []
    const sign = named.against === 'pair' && named.unit !== i ? -1 : 1
    const latest = rows.slice(-MEAN_OF)
    return [
      {
        line: 'redundant',
        against: context.point.analyzers.filter((_, other) => other !== i).join(' and '),
        n: rows.length,
        chart: chartData(line.chart, context, sign),
        biasNtu: roundTo(mean(latest.map(row => sign * row.value.ofTolerance * row.toleranceNtu)), DIGITS.ntu),
        sigmaNtu: roundTo(mean(latest.map(row => row.value.uOfTolerance * row.toleranceNtu)), DIGITS.ntu),
        excluded: {},
        points: rows
          .slice(-MOST_POINTS)
          .map(row => [
            formatInstant(row.atMs),
            roundTo(sign * row.value.ofTolerance, DIGITS.tolerances),
            roundTo(row.value.uOfTolerance, DIGITS.tolerances),
          ]),
      },
    ]
  })
}

function chartData(chart: Chart, context: PointContext, sign: 1 | -1): NonNullable<EvidenceData['chart']> {
  const side = leadingSide(chart)
  return {
    delta0: context.plant.delta0,
    delta1: context.plant.delta1,
    limit: roundTo(chart.limit, DIGITS.statistic),
    statistic: roundTo(Math.max(chart.high, chart.low), DIGITS.statistic),
    side: sign === 1 ? side : side === 'high' ? 'low' : 'high',
    ...(chart.peakAtMs === null ? {} : { peakAt: formatInstant(chart.peakAtMs) }),
    alarmFreeYears: roundTo(context.plant.analyzerYearsPerFalseAlarm * context.sides, 1),
  }
}
